"""Files on the disk, whoever writes them: copies of the logbook, files that only their owner
reads, one curewatch at a time, what a full disk says.

No table of the logbook is named here: that is the store's.
"""
