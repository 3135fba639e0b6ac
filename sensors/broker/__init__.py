"""Our own broker, in a process that ends with ours and is replaced when it ends or hangs.

What passes through it is not looked at here.
"""
