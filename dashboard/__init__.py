"""The pages in a browser. At the top stands only what puts the app together: every address, static
files, errors. Who may see the pages is in `access`, what a request says in `request`, what every
page is given in `context`, what is no page in `endpoints`; `pages` draws, with `figures`."""
