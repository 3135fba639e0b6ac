"""One part, backwards from a wish: the ways of work as files, when somebody is there, and the weeks
in which the work is tried out, evening by evening. Nothing here reminds anybody of anything: an
answer is a proposal, and each test still decides.
"""
