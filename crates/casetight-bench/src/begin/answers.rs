//! Questions as they are shown, replies as they are taken, and what was replied.

use std::collections::BTreeMap;

use casetight::quantity::ParseQuantityError;

/// A question, as it is shown.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Ask {
    /// The question.
    pub question: String,
    /// A line that helps to answer it; empty where the question says all.
    pub help: &'static str,
    /// What is replied.
    pub takes: Takes,
    /// What the sheet says where the answer is not known; none where it can't be done without.
    pub unknown: Option<&'static str>,
}

/// What a question takes. Whoever shows questions shows each of these, so that one more is a change for them.
#[derive(Debug, Clone, PartialEq)]
pub enum Takes {
    /// One of these: [`Reply::Chosen`] by its place in the list, from 0.
    OneOf {
        /// What there is to choose from.
        words: Vec<&'static str>,
        /// The usual one.
        usual: usize,
    },
    /// Any words, on one line; the usual ones where nothing is replied.
    Words {
        /// The usual ones.
        usual: &'static str,
    },
    /// A quantity, such as "7 psi"; a number alone is in this unit.
    Quantity {
        /// The unit of a number alone.
        unit: &'static str,
        /// The usual one; none where nothing is usual.
        usual: Option<&'static str>,
    },
    /// A time and what the gauge showed, such as "0:30 6.8"; asked for again until [`Reply::Enough`].
    Reading {
        /// The gauge's unit.
        unit: &'static str,
    },
}

/// A reply.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reply<'a> {
    /// One of the words, by its place in the list, from 0.
    Chosen(usize),
    /// What was written.
    Text(&'a str),
    /// It is not known.
    Unknown,
    /// There are no more readings.
    Enough,
}

/// Why a reply can't be taken, and what to reply.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ReplyError {
    /// Not one of those to choose from.
    #[error("choose one of the {choices}")]
    NoSuchChoice {
        /// How many there are.
        choices: usize,
    },
    /// Nothing was replied where something is needed.
    #[error("it is needed; write it in {unit}")]
    Needed {
        /// The unit of a number alone.
        unit: &'static str,
    },
    /// Another kind of reply than is asked for.
    #[error("it can't be done without")]
    Kind,
    /// Letters that can't be shown.
    #[error("write it on one line, in letters, digits and marks")]
    Words,
    /// No quantity of the kind.
    #[error(transparent)]
    Quantity(#[from] ParseQuantityError),
    /// A quantity that must be above zero.
    #[error("it must be above zero")]
    NotPositive,
    /// Not a time and a reading.
    #[error("write the time and then what the gauge shows, such as \"0:30 {example}\"")]
    Reading {
        /// What a gauge may show.
        example: &'static str,
    },
    /// A reading that is not later than the one before.
    #[error(
        "the reading before is of {before_s} s; write a later time, or the empty line if there are no more"
    )]
    NotLater {
        /// Time of the reading before \[s\].
        before_s: f64,
    },
    /// A sheet with this reply would be refused.
    #[error("{problem}")]
    Refused {
        /// What it would be refused for.
        problem: String,
    },
    /// Too few readings to tell anything.
    #[error("{least} readings at least tell something: {missing} more, please")]
    TooFew {
        /// The fewest.
        least: usize,
        /// How many more.
        missing: usize,
    },
}

/// What is to be done with a finished sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Then {
    /// It has readings: assess it.
    Assess,
    /// Go on into the hold.
    Hold,
    /// Keep it for later.
    Keep,
}

/// What a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Topic {
    Machine,
    Unit,
    Face,
    Step,
    Between,
    Side,
    Known,
    Displacement,
    Bore,
    Stroke,
    Measured,
    MeasuredWithin,
    Size,
    Piston,
    Rig,
    Temperature,
    Air,
    Barometer,
    Altitude,
    Limit,
    Drop,
    From,
    Over,
    Readings,
    Wait,
    Reading,
}

/// A reading, as the sheet has it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Reading {
    pub(super) time_s: f64,
    /// In the gauge's unit.
    pub(super) gauge: f64,
}

/// What was replied to a question.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Given {
    Chosen(usize),
    Text(String),
    Unknown,
}

/// What was replied.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Answers {
    given: BTreeMap<Topic, Given>,
    pub(super) readings: Vec<Reading>,
}

impl Answers {
    /// The one chosen of these; none where it was not asked for or is not known.
    pub(super) fn chosen<T: Copy>(&self, topic: Topic, of: &[(&'static str, T)]) -> Option<T> {
        match self.given.get(&topic)? {
            Given::Chosen(at) => of.get(*at).map(|(_, chosen)| *chosen),
            _ => None,
        }
    }

    /// What was written; none where it was not asked for or is not known.
    pub(super) fn text(&self, topic: Topic) -> Option<&str> {
        match self.given.get(&topic)? {
            Given::Text(text) => Some(text),
            _ => None,
        }
    }

    /// Whether it was asked for and is not known.
    pub(super) fn is_unknown(&self, topic: Topic) -> bool {
        self.given.get(&topic) == Some(&Given::Unknown)
    }

    pub(super) fn give(&mut self, topic: Topic, given: Given) {
        self.given.insert(topic, given);
    }
}

/// A number alone is in the unit.
pub(super) fn in_unit(text: &str, unit: &str) -> String {
    let number = text
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, '.' | ',' | '+' | '-' | '\u{2212}' | 'e' | 'E'));
    if number {
        format!("{text} {unit}")
    } else {
        text.to_owned()
    }
}
