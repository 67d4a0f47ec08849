//! x
#[allow(dead_code, reason = "the commands that draw charts come next")]
mod chart;
fn main() {}
