"""What a person enters: typed readings, and the file of a data logger.

Pure: from text to readings, and to questions for the user.
"""
