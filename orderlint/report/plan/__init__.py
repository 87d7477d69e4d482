"""A plan as text, page, JSON and calendar.

Never reckons a time or a volume.
"""
