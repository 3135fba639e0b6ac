"""The reference as Markdown files, one for each topic, shown by `curewatch guide` and by the page.

Only text is here: `curewatch/wording/guide.py` reads it. The pages about commands are made from the
commands' own help.
"""
