"""What is next: on each part, this evening, after the night; what was mixed last.

Plain data, and the sentences of cards.
"""
