//! What a key that is not known was meant to be.

use crate::record::nearest;

/// Keys by the other words that people have for them (common practice, no source). A word counts where its key is known.
const OTHER_WORDS: &[(&str, &[&str])] = &[
    (
        "pressure",
        &[
            "barometer",
            "baro",
            "ambient_pressure",
            "atmospheric_pressure",
            "air_pressure",
            "p",
        ],
    ),
    (
        "temperature",
        &[
            "ambient_temperature",
            "air_temperature",
            "room_temperature",
            "t",
        ],
    ),
    ("value", &["volume", "vol", "cc", "size"]),
    ("volume", &["value", "vol"]),
    (
        "uncertainty",
        &["error", "tolerance", "accuracy", "plus_minus", "sigma", "u"],
    ),
    (
        "readings",
        &[
            "data",
            "values",
            "time",
            "times",
            "seconds",
            "pressure",
            "pressures",
            "measurements",
            "points",
        ],
    ),
    ("file", &["trace", "csv", "log", "path"]),
    ("max_drop", &["drop", "max_fall", "fall", "loss"]),
    ("over", &["time", "seconds", "hold", "duration", "within"]),
    ("from", &["start", "start_pressure", "test_pressure"]),
    ("division", &["step", "graduation", "marks"]),
    ("resolution", &["digits", "display", "last_digit"]),
    ("span", &["range", "full_scale"]),
    ("accuracy_class", &["class", "accuracy"]),
    (
        "rod",
        &["conrod", "con_rod", "rod_length", "connecting_rod"],
    ),
    ("bore", &["cylinder", "diameter"]),
    (
        "displacement",
        &["capacity", "cylinder_volume", "swept_volume", "size", "cc"],
    ),
    ("run", &["test", "tests", "trial", "trials"]),
    (
        "ambient",
        &["surroundings", "weather", "environment", "room"],
    ),
    ("gauge", &["gage", "meter", "dial", "manometer"]),
    ("name", &["label", "id", "title"]),
    ("note", &["comment", "comments", "remark", "remarks"]),
    ("direction", &["side", "kind", "type", "mode"]),
    ("blanked", &["blocked", "plugged", "closed", "sealed"]),
];

/// Ends that people give to the key of an uncertainty.
const UNCERTAIN: [&str; 4] = ["_error", "_tolerance", "_accuracy", "_sigma"];

/// Fewest letters that a key is known by from its start.
const START: usize = 3;

/// Most letters that a key may differ in from one that is meant.
const NEAR: usize = 3;

/// The known key that another word stands for.
pub(super) fn other_word(word: &str, known: &[&'static str]) -> Option<&'static str> {
    let word = plain(word);
    let is_known = |key: &&'static str| known.iter().find(|known| *known == key).copied();
    // A unit in the key: `displacement_cc`.
    let without_unit = word.rsplit_once('_').map_or("", |(head, _)| head);
    let uncertain = UNCERTAIN.iter().find_map(|end| word.strip_suffix(end));
    let uncertain = uncertain.map(|of| format!("{of}_uncertainty"));
    let keys = OTHER_WORDS
        .iter()
        .filter(|(_, words)| words.contains(&word.as_str()) || words.contains(&without_unit));
    let mut keys = keys.map(|(key, _)| *key);
    let uncertain = uncertain.and_then(|key| known.iter().find(|known| **known == key).copied());
    uncertain.or_else(|| keys.find_map(|key| is_known(&key)))
}

/// The known key that a word comes nearest to: one that it starts, or that starts it (`temp`, `readings_psi`), or one of few other letters.
pub(super) fn near(word: &str, known: &[&'static str]) -> Option<&'static str> {
    let word = plain(word);
    let starts = |key: &&&'static str| {
        word.len() >= START && key.starts_with(&word) || word.starts_with(&format!("{key}_"))
    };
    let by_start = known
        .iter()
        .filter(starts)
        .min_by_key(|key| key.len())
        .copied();
    let most = word.chars().count().div_ceil(3).min(NEAR);
    by_start.or_else(|| nearest(&word, known.iter().copied(), most))
}

fn plain(word: &str) -> String {
    word.to_lowercase().replace([' ', '-'], "_")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_words_and_starts() {
        let ambient = [
            "pressure",
            "pressure_uncertainty",
            "temperature",
            "temperature_uncertainty",
        ];
        assert_eq!(other_word("Barometer", &ambient), Some("pressure"));
        assert_eq!(
            other_word("pressure_error", &ambient),
            Some("pressure_uncertainty")
        );
        assert_eq!(near("temp", &ambient), Some("temperature"));
        assert_eq!(near("temperature_c", &ambient), Some("temperature"));
        assert_eq!(near("Presure", &ambient), Some("pressure"));
        assert_eq!(near("te", &ambient), None);
        // A word counts where its key is known.
        assert_eq!(other_word("barometer", &["bore"]), None);
        assert_eq!(
            other_word("capacity_cc", &["displacement"]),
            Some("displacement")
        );
        assert_eq!(
            near("displacement_cc", &["bore", "displacement"]),
            Some("displacement")
        );
        assert_eq!(near("mane", &["name"]), Some("name"));
        assert_eq!(near("data", &["name"]), None);
        assert_eq!(near("", &["name"]), None);
    }

    /// No other word stands for two keys of one table, and none is a key that it stands for.
    #[test]
    fn the_words_are_other_words() {
        for (key, words) in OTHER_WORDS {
            assert!(!words.contains(key), "{key}");
        }
    }
}
