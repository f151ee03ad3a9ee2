//! Audio: a recording in, a prepared token out. Samples are pure, files stay at the edge.
