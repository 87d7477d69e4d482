"""An order set: the template that orders are signed from, and every order it can yield."""
