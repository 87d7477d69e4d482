"""A page on this machine alone: an order is entered in a form and checked while it is entered."""
