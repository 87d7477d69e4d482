"""Serves checks of orders at signing, by CDS Hooks 2.0: cards in answer to hooks, a page for each.

`server.listening` binds a port; `app.Service` is the WSGI function. Never a check or a word of its
own, never a suggestion that changes an order, and nothing on disk.
"""
