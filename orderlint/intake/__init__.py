"""What is not written as an order: sentences of a prescriber, read clause by clause."""
