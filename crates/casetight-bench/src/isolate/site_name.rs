//! What a place must be to be told from others.

use std::fmt;

/// What names a site: an enum of the trade's words, a string.
pub trait SiteName: Clone + Ord + fmt::Display {}

impl<S: Clone + Ord + fmt::Display> SiteName for S {}
