//! Charts as SVG that stands in the page: no script, no font and no colour of their own that a style sheet cannot change.

