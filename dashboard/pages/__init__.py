"""The pages drawn by Dash: one app on the present server, a module for each page."""
