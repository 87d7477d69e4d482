"""Drafts of orders, and the orders that come of them, as text."""
