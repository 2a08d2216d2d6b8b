"""Shades, mixes and bowls: what a toner will do, and the fewest bowls that do it."""
