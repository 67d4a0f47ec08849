//! What a misspelled word was meant to be.

use strsim::levenshtein;

/// Longer words are not compared: no word that this crate knows comes near this length.
const LONGEST: usize = 64;

/// The known word that takes the fewest changed letters to get to, if it takes no more than `most`.
pub(crate) fn nearest<'k>(
    word: &str,
    known: impl IntoIterator<Item = &'k str>,
    most: usize,
) -> Option<&'k str> {
    if word.len() > LONGEST {
        return None;
    }
    known
        .into_iter()
        .map(|candidate| (levenshtein(word, candidate), candidate))
        .min_by_key(|(changes, _)| *changes)
        .filter(|(changes, _)| *changes <= most)
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_of_several() {
        let known = ["bore", "stroke", "rod"];
        assert_eq!(nearest("strok", known, 2), Some("stroke"));
        assert_eq!(nearest("boer", known, 2), Some("bore"));
        assert_eq!(nearest("temperature", known, 2), None);
        assert_eq!(nearest(&"x".repeat(1000), known, usize::MAX), None);
        assert_eq!(nearest("bore", [], 2), None);
    }
}
