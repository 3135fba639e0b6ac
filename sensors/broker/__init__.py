"""Our own broker, in a process that ends with ours and is replaced when it ends or hangs.

It does not look at what passes through.
"""
