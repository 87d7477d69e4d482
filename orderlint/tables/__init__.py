"""Tables of orders: which column holds which setting, and the document that a row is."""
