//! What a misspelled word was meant to be.

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
        .map(|candidate| (distance(word, candidate), candidate))
        .min_by_key(|(changes, _)| *changes)
        .filter(|(changes, _)| *changes <= most)
        .map(|(_, candidate)| candidate)
}

/// Levenshtein's distance: letters that are put in, left out or replaced. One row of its table at a time.
fn distance(a: &str, b: &str) -> usize {
    let mut row: Vec<usize> = (0..=b.chars().count()).collect();
    for (above, from) in a.chars().enumerate() {
        let (mut diagonal, mut left) = (above, above + 1);
        let mut cells = row.iter_mut();
        if let Some(first) = cells.next() {
            *first = left;
        }
        for (cell, to) in cells.zip(b.chars()) {
            let replaced = diagonal + usize::from(from != to);
            diagonal = *cell;
            left = replaced.min(*cell + 1).min(left + 1);
            *cell = left;
        }
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn distances_known_from_textbooks() {
        // From memory: the textbook pairs, counted by hand as well.
        for (a, b, changes) in [
            ("kitten", "sitting", 3),
            ("saturday", "sunday", 3),
            ("bore", "bore", 0),
            ("", "rod", 3),
            ("rod", "", 3),
            ("stroek", "stroke", 2),
        ] {
            assert_eq!(distance(a, b), changes, "{a} {b}");
        }
    }

    #[test]
    fn the_nearest_of_several() {
        let known = ["bore", "stroke", "rod"];
        assert_eq!(nearest("strok", known, 2), Some("stroke"));
        assert_eq!(nearest("boer", known, 2), Some("bore"));
        assert_eq!(nearest("temperature", known, 2), None);
        assert_eq!(nearest(&"x".repeat(1000), known, usize::MAX), None);
        assert_eq!(nearest("bore", [], 2), None);
    }

    proptest! {
        #[test]
        fn a_distance_is_one(a in "[a-d]{0,8}", b in "[a-d]{0,8}", c in "[a-d]{0,8}") {
            prop_assert_eq!(distance(&a, &b), distance(&b, &a));
            prop_assert_eq!(distance(&a, &b) == 0, a == b);
            prop_assert!(distance(&a, &c) <= distance(&a, &b) + distance(&b, &c));
        }
    }
}
