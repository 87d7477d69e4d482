"""Contrast between two colours, as WCAG 2.2 defines it."""

from __future__ import annotations


def luminance(color):
    """Relative luminance as WCAG 2.2 defines it (https://www.w3.org/TR/WCAG22/)."""
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return sum(part * c for part, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    """The contrast ratio as WCAG 2.2 defines it."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
