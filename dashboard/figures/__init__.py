"""The pictures: data to plotly figures, each a pure function of what it shows and of the screen, in
the colours of the style sheet. Nothing here knows a request, the bench's store or Dash."""
