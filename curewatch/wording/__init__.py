"""Sentences for people, made from codes and values at the last moment, for pages and terminal
alike.

No code reads them back.
"""
