"""One file a screen, found by name.

Each has `screen`, a Flask blueprint, and `NAV`: (order, word, address) of its place in the
navigation, or None for a screen that others lead to.
"""
