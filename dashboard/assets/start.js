"use strict";
/* Dash begins here; nothing of it is written into the page itself. */
document.dispatchEvent(new CustomEvent("begins"));
var renderer = new DashRenderer();
