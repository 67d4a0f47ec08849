use proptest::prelude::*;

use super::{Ask, Interview, Reply, ReplyError, TEMPLATE, Takes, Then};
use crate::session::Session;
use crate::sheet::{NoTraces, Sheet};
use casetight::limit::Verdict;

/// Replies to each question that begins so; what is usual to the others.
fn asked(replies: &[(&str, &[&str])]) -> Interview {
    let mut interview = Interview::new();
    let mut given: Vec<(&str, Vec<&str>)> = replies
        .iter()
        .map(|(question, replies)| (*question, replies.to_vec()))
        .collect();
    while let Some(ask) = interview.ask() {
        let reply = given
            .iter_mut()
            .find(|(question, replies)| ask.question.starts_with(question) && !replies.is_empty())
            .map(|(_, replies)| replies.remove(0));
        take(&mut interview, &ask, reply).unwrap_or_else(|e| panic!("{}: {e}", ask.question));
    }
    assert!(given.iter().all(|(_, left)| left.is_empty()), "{given:?}");
    interview
}

fn take(interview: &mut Interview, ask: &Ask, reply: Option<&str>) -> Result<(), ReplyError> {
    let reply = match (&ask.takes, reply) {
        (_, Some("?")) | (Takes::Quantity { usual: None, .. }, None) => Reply::Unknown,
        (Takes::OneOf { words, .. }, Some(reply)) => Reply::Chosen(
            words
                .iter()
                .position(|word| word.contains(reply))
                .unwrap_or_else(|| panic!("{reply} of {words:?}")),
        ),
        (Takes::OneOf { usual, .. }, None) => Reply::Chosen(*usual),
        (Takes::Reading { .. }, None) => Reply::Enough,
        (_, Some(reply)) => Reply::Text(reply),
        (
            Takes::Words { usual }
            | Takes::Quantity {
                usual: Some(usual), ..
            },
            None,
        ) => Reply::Text(usual),
    };
    interview.reply(reply)
}

fn read(text: &str) -> Sheet {
    Sheet::parse(text, "new.toml", &NoTraces).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

const READINGS: (&str, &[&str]) = ("Time and", &["0 7", "0:30 6.9", "1:00 6.75"]);

#[test]
fn a_displacement_and_three_readings_of_a_dial_give_a_verdict() {
    let interview = asked(&[
        ("What is on the bench", &["Clearing saw 7"]),
        ("Displacement", &["45"]),
        ("How high", &["300 m"]),
        ("What may the engine lose", &["common practice"]),
        ("How long after the last stroke", &["10"]),
        READINGS,
    ]);
    assert_eq!(
        (interview.then(), interview.run()),
        (Then::Assess, "pressure")
    );
    assert_eq!(interview.file_stem(), "clearing-saw-7");
    let text = interview.sheet();
    let sheet = read(&text);
    assert_eq!(sheet.title, "Clearing saw 7");
    assert!(text.contains("settled_for = \"10 s\""), "{text}");
    let session = Session::assess(&sheet).unwrap();
    assert_eq!(
        session.runs[0].assessment.verdict,
        Some(Verdict::Holds),
        "{text}"
    );
}

/// Nobody knows anything but the gauge's unit.
#[test]
fn what_is_not_known_is_written_as_wide_as_it_is() {
    let interview = asked(&[
        ("How much is it from one mark", &["?"]),
        ("How finely", &["?"]),
        ("What do you know of the engine", &["?"]),
        ("What size", &["saw"]),
        ("Where does the piston", &["?"]),
        ("How warm", &["?"]),
        ("What do you know of the air", &["?"]),
        ("What may the engine lose", &["?"]),
        READINGS,
    ]);
    let text = interview.sheet();
    let sheet = read(&text);
    assert!(sheet.limits.is_empty());
    assert!(text.matches("Not known").count() >= 4, "{text}");
    let session = Session::assess(&sheet).unwrap();
    let assessment = &session.runs[0].assessment;
    assert_eq!(assessment.verdict, None);
}

#[test]
fn the_replies_reach_the_sheet_in_their_units() {
    let text = asked(&[
        ("What does the gauge read in", &["inHg"]),
        ("What kind of gauge", &["digits"]),
        ("What is one step", &["0.05"]),
        ("What do you know of the engine", &["bore"]),
        ("Bore", &["42"]),
        ("Stroke", &["1.26 in"]),
        ("How warm", &["75"]),
        ("What do you know of the air", &["barometer"]),
        ("Air pressure", &["29.5"]),
        ("What may the engine lose", &["manual"]),
        ("In how long", &["90"]),
        ("And the readings", &["keep"]),
    ])
    .sheet();
    for line in [
        "unit = \"inHg\"",
        "resolution = \"0.05 inHg\"",
        "bore = \"42 mm\"",
        "stroke = \"1.26 in\"",
        "temperature = \"75 F\"",
        "pressure = \"29.5 inHg\"",
        "max_drop = \"2 inHg\"",
        "from = \"14 inHg\"",
        "over = \"90 s\"",
    ] {
        assert!(text.contains(line), "{line}: {text}");
    }
}

/// What a sheet would be refused for is refused at its question, which is asked again.
#[test]
fn a_reply_that_cannot_be_is_asked_for_again() {
    let mut interview = Interview::new();
    let mut refused = |question: &str, reply: &str, said: &str| {
        while let Some(ask) = interview.ask() {
            if !ask.question.starts_with(question) {
                let own = ask.question.starts_with("Displacement").then_some("50");
                take(&mut interview, &ask, own).unwrap();
                continue;
            }
            let before = interview.clone();
            let error = take(&mut interview, &ask, Some(reply))
                .unwrap_err()
                .to_string();
            assert!(error.contains(said), "{question}: {error}");
            assert_eq!(interview, before);
            return;
        }
        panic!("{question} is never asked");
    };
    refused("What is on the bench", "saw\u{1b}[2J", "on one line");
    refused("How much is it from one mark", "0", "above zero");
    refused("How much is it from one mark", "0.5 cm3", "pressure");
    refused("Displacement", "", "needed");
    refused("Displacement", "a lot", "volume");
    refused("How warm", "900 C", "is the unit right?");
    refused("Time and", "7", "the time and then");
    refused("Time and", "0 7 8", "the time and then");
    refused("Time and", "soon 7", "time");
}

#[test]
fn readings_rise_in_time_and_are_three_at_least() {
    let mut interview = Interview::new();
    while let Some(ask) = interview.ask() {
        if matches!(ask.takes, Takes::Reading { .. }) {
            break;
        }
        take(&mut interview, &ask, None).unwrap();
    }
    interview.reply(Reply::Text("0, 7")).unwrap();
    let error = interview.reply(Reply::Enough).unwrap_err();
    assert_eq!(
        error,
        ReplyError::TooFew {
            least: 3,
            missing: 2
        }
    );
    let error = interview.reply(Reply::Text("0 6.9")).unwrap_err();
    assert_eq!(error, ReplyError::NotLater { before_s: 0.0 });
    for more in ["30 s 6.9 psi", "60,6"] {
        interview.reply(Reply::Text(more)).unwrap();
    }
    interview.reply(Reply::Enough).unwrap();
    assert_eq!(interview.ask(), None);
    // 6 psi are no whole number of pascals.
    assert!(
        interview.sheet().contains("  [30, 6.9],\n  [60, 6],\n"),
        "{}",
        interview.sheet()
    );
}

/// The template answers nothing before it is filled in, and is read when it is.
#[test]
fn the_template_is_read_once_it_is_filled_in() {
    assert!(Sheet::parse(TEMPLATE, "new.toml", &NoTraces).is_err());
    let filled: Vec<&str> = TEMPLATE
        .lines()
        .map(|line| {
            let bare = line.strip_prefix("# ").unwrap_or(line);
            let is_toml = bare.starts_with([' ', '[', ']']) || bare.contains(" = ");
            if is_toml { bare } else { line }
        })
        .collect();
    let filled = filled.join("\n");
    let session = Session::assess(&read(&filled)).unwrap();
    assert_eq!(session.runs.len(), 1, "{filled}");
}

/// A reply to any question, chosen by a number.
fn any_reply<'a>(ask: &Ask, n: usize, text: &'a str) -> Reply<'a> {
    match &ask.takes {
        Takes::OneOf { words, .. } if n % (words.len() + 1) < words.len() => {
            Reply::Chosen(n % (words.len() + 1))
        }
        Takes::OneOf { .. } => Reply::Unknown,
        _ => match n % 3 {
            0 => Reply::Unknown,
            1 => Reply::Enough,
            _ => Reply::Text(text),
        },
    }
}

proptest! {
    /// Whatever is replied, each state is a sheet that is read, and the questions end.
    #[test]
    fn every_way_through_the_questions_is_a_sheet(
        replies in prop::collection::vec((0_usize..60, "[0-9]{1,3}(\\.[0-9]{1,2})?( (psi|cm3|mm|C|s|m))?|[0-9]{1,2} [0-9]|.{0,12}"), 120),
    ) {
        let mut interview = Interview::new();
        for (n, text) in &replies {
            let Some(ask) = interview.ask() else { break };
            let _ = interview.reply(any_reply(&ask, *n, text));
            let sheet = interview.sheet();
            prop_assert!(Sheet::parse(&sheet, "", &NoTraces).is_ok(), "{}", sheet);
            prop_assert!(!interview.file_stem().is_empty());
        }
    }
}
