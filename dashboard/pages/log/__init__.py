"""The log: steps to search, to lay over each other, predicted beside actual."""
