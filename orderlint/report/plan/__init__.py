"""A plan as text, page, JSON and calendar.

Never computes a time or a volume.
"""
