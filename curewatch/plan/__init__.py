"""What is next: on each part, this evening, after the night.

Plain data, and the sentences of cards.
"""
