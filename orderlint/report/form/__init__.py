"""The form in which an order is entered, and the pages beside it."""
