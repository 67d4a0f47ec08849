//! A new sheet, asked for question by question.
//!
//! An [`Interview`] asks for what a first answer needs, in the trade's words: what the gauge is, what is known of the engine and the air,
//! the limit, the readings. Each question has something usual and, where it can be done without, a way to say that the answer is not
//! known; what is not known is written to the sheet as wide as it is. Whoever shows the questions, a terminal or a page, hands the
//! replies back. The outcome is the text of a sheet with remarks, which reads as any other.
//!
//! Takes replies; gives questions and text. It opens nothing and prints nothing. Checked by its tests, in which every way through the
//! questions ends in a sheet that is read, and by the program's in a pseudo terminal.
//!
//! ```
//! use casetight_bench::begin::{Interview, Reply, Takes};
//! use casetight_bench::sheet::{NoTraces, Sheet};
//!
//! let mut interview = Interview::new();
//! while let Some(ask) = interview.ask() {
//!     // What is usual, wherever there is such a thing.
//!     let reply = match &ask.takes {
//!         Takes::OneOf { usual, .. } => Reply::Chosen(*usual),
//!         Takes::Words { usual } | Takes::Quantity { usual: Some(usual), .. } => Reply::Text(usual),
//!         Takes::Quantity { usual: None, .. } => Reply::Unknown,
//!         Takes::Reading { .. } => Reply::Enough,
//!     };
//!     interview.reply(reply)?;
//! }
//! let text = interview.sheet();
//! assert!(Sheet::parse(&text, "sheet.toml", &NoTraces).is_ok());
//! # Ok::<(), casetight_bench::begin::ReplyError>(())
//! ```

mod answers;
mod questions;
mod readings;
mod taken;
mod written;

pub use answers::{Ask, Reply, ReplyError, Takes, Then};

use answers::Answers;
use questions::QUESTIONS;

/// The questions of a new sheet, and the replies so far.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Interview {
    answers: Answers,
    asked: usize,
}

impl Interview {
    /// None asked yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The next question; none where the sheet has what it needs.
    #[must_use]
    pub fn ask(&self) -> Option<Ask> {
        let question = QUESTIONS.get(self.next()?)?;
        Some((question.asks)(&self.answers))
    }

    /// Takes the reply to [`Interview::ask`].
    ///
    /// # Errors
    /// A [`ReplyError`] that says what to reply; the question stands.
    pub fn reply(&mut self, reply: Reply<'_>) -> Result<(), ReplyError> {
        let Some((at, question)) = self.next().and_then(|at| Some((at, QUESTIONS.get(at)?))) else {
            return Ok(());
        };
        let again = taken::take(&mut self.answers, question, reply)?;
        self.asked = if again { at } else { at + 1 };
        Ok(())
    }

    /// What is to be done with the sheet.
    #[must_use]
    pub fn then(&self) -> Then {
        questions::then(&self.answers)
    }

    /// The name of the run that the sheet has.
    #[must_use]
    pub fn run(&self) -> &'static str {
        questions::side(&self.answers)
    }

    /// What the sheet is called, without an ending: the machine in small letters, as in "clearing-saw-7".
    #[must_use]
    pub fn file_stem(&self) -> String {
        let title = questions::title(&self.answers);
        let words = title.split(|c: char| !c.is_alphanumeric());
        let words: Vec<String> = words
            .filter(|word| !word.is_empty())
            .map(str::to_lowercase)
            .collect();
        if words.is_empty() {
            NAMELESS.to_owned()
        } else {
            words.join("-")
        }
    }

    /// The sheet as far as it is known. A hold that is yet to come keeps its readings in this file.
    #[must_use]
    pub fn sheet_with_trace(&self, trace: &str) -> String {
        written::sheet(&self.answers, Some(trace))
    }

    /// The sheet as far as it is known, with the readings that were given.
    #[must_use]
    pub fn sheet(&self) -> String {
        written::sheet(&self.answers, None)
    }

    fn next(&self) -> Option<usize> {
        let to_come = QUESTIONS.iter().enumerate().skip(self.asked);
        to_come
            .filter(|(_, question)| (question.is_asked)(&self.answers))
            .map(|(at, _)| at)
            .next()
    }
}

/// What a sheet is called whose machine has no letter in its name.
const NAMELESS: &str = "bench-sheet";

/// A sheet to fill in by hand: what is needed stands as a remark, so that nothing is answered before it was.
pub const TEMPLATE: &str = include_str!("template.toml");

#[cfg(test)]
mod tests;
