"""The pages that Dash draws: one Dash app on the present server, a package for each page, and
beside them what all use: addresses, frame, components, touches. A page takes plain data from
curewatch and says what a touch does; it computes no times and draws no figure itself."""
