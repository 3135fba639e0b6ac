"""Sentences for people, made from codes and values at the last moment: for pages and terminal
alike.

Nothing reads them back.
"""
