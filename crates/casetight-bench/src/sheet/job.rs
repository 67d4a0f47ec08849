//! `[job]`: what the page for the record says beside the test.

use super::keys::declare::table;
use super::keys::form::{Lines, Name};
use super::keys::rule::Optional;

table! {
    /// The job that the test was made for, as the page for the record tells it; no number depends on it.
    #[derive(Default)]
    pub struct Job {
        /// The workshop's name.
        pub shop: Option<String> = Optional(Name("the workshop's name"));
        /// What the customer said of the machine.
        pub complaint: Option<String> = Optional(Lines("what the customer said"));
        /// What was done to it.
        pub work_done: Option<String> = Optional(Lines("what was done"));
    }
}
