"""What several tests stand on: brokers, pages, scenes, logbooks."""
