"""Laying plans for heating elements: choose, lay, judge, and find a place along the wire.

Import from the modules: `lay` brings a compiler and 90 MB along, which reading one does not need.
"""
