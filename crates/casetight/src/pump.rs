//! The hand pump: strokes, and a needle that will not rise.
