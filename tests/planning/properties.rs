//! Props.
