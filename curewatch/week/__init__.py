"""Several parts and the week: the steps that are left of every wished part laid on a grid of ten
minutes, an order for one pair of hands, and the chances of it in drawn weeks. What is found is a
proposal: nothing here reminds anybody of anything, and each test still decides.
"""
