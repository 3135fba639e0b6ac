"""Who may see the pages: the login with its sessions and its limit of tries, the checks before
every request, the server with its places for connections, and encryption in front of it. Nothing
here knows a page, the bench or the logbook."""
