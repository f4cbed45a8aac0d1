"""One file a screen, found by name; each has `screen`, a Flask blueprint.

Which word of the navigation a screen belongs to stands in `kb/web/places.py`.
"""
