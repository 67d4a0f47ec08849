//! Replies, taken.

use super::answers::{Answers, Given, Reply, ReplyError, Takes, in_unit};
use super::questions::Question;
use super::{readings, written};
use crate::printable;
use crate::sheet::{NoTraces, Sheet};

/// Takes a reply; says whether the same question is asked again. What a sheet would be refused for is refused here, where it can be
/// mended, and changes nothing.
pub(super) fn take(
    answers: &mut Answers,
    question: &Question,
    reply: Reply<'_>,
) -> Result<bool, ReplyError> {
    let mut with = answers.clone();
    let again = add(&mut with, question, reply)?;
    Sheet::parse(&written::sheet(&with, None), "", &NoTraces).map_err(|refused| {
        let problem = refused.problem().to_string();
        ReplyError::Refused { problem }
    })?;
    *answers = with;
    Ok(again)
}

fn add(answers: &mut Answers, question: &Question, reply: Reply<'_>) -> Result<bool, ReplyError> {
    let ask = (question.asks)(answers);
    let given = match (&ask.takes, reply) {
        (Takes::Reading { .. }, Reply::Text(text)) => {
            return readings::take(answers, text).map(|()| true);
        }
        (Takes::Reading { .. }, Reply::Enough) => {
            return readings::are_enough(&answers.readings).map(|()| false);
        }
        (_, Reply::Unknown) if ask.unknown.is_some() => Given::Unknown,
        (Takes::OneOf { words, .. }, Reply::Chosen(at)) if at < words.len() => Given::Chosen(at),
        (Takes::OneOf { words, .. }, _) => {
            let choices = words.len();
            return Err(ReplyError::NoSuchChoice { choices });
        }
        (Takes::Words { usual }, Reply::Text(text)) => Given::Text(words(text, usual)?),
        (Takes::Quantity { unit, usual }, Reply::Text(text)) => {
            let text = match (text.trim(), usual) {
                ("", Some(usual)) => *usual,
                ("", None) => return Err(ReplyError::Needed { unit }),
                (text, _) => text,
            };
            let text = in_unit(text, unit);
            Given::Text(
                question
                    .checks
                    .map_or(Ok(text.clone()), |check| check(&text))?,
            )
        }
        _ => return Err(ReplyError::Kind),
    };
    answers.give(question.topic, given);
    Ok(false)
}

fn words(text: &str, usual: &str) -> Result<String, ReplyError> {
    let text = match text.trim() {
        "" => usual,
        text => text,
    };
    if printable::line(text) == text {
        Ok(text.to_owned())
    } else {
        Err(ReplyError::Words)
    }
}
