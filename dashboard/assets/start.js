"use strict";
/* Dash begins here; nothing of it is written into the page itself. */
var renderer = new DashRenderer();
