"""What a person enters: typed readings, and the file of a data logger.

Pure: text in, readings out, and what has to be asked.
"""
