"""Files on the disk, whoever writes them: copies of the logbook, files that only their owner may
read, the lock of a data folder, the errors of a disk.

No table of the logbook is named here: those belong to the store.
"""
