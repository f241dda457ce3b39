//! Plans held against kitchens that mix them: whether the dough ends where it was wanted,
//! as surely as was said, and fully developed.

#[path = "../support/mod.rs"]
mod support;

mod bad_input;
mod closed_loop;
mod compare;
mod properties;
