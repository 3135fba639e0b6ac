"""The pictures: data to plotly figures, each a pure function of what it shows and of the screen."""
