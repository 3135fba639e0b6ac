"""Commands at the mix, while it cures and afterwards: steps, their tests, the bench, the log.

They may import the commands of `before` and `setup`, and are imported by none.
"""
