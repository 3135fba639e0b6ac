"""What several tests share: brokers, pages, scenes, logbooks."""
