"""What is answered at addresses that are no page: what scripts ask for, and what plain forms and
touches outside Dash send. Each module puts its addresses on the app by `register`; what a page
shows of the same stands beside it. Nothing here knows Dash."""
