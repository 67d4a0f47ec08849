//! Equations of the book: `$...$` within a line of text and `$$...$$` on their own become MathML, which browsers draw
//! by themselves, so that the built book needs no script and no connection.

use std::fmt;
use std::ops::Range;

use math_core::{LatexToMathML, MathCoreConfig, MathDisplay};

/// An equation that can't be drawn.
#[derive(Debug)]
pub(crate) struct Wrong {
    /// Line of the page, from 1.
    line: usize,
    latex: String,
    reason: String,
}

impl fmt::Display for Wrong {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}: ${}$: {}", self.line, self.latex, self.reason)
    }
}

/// The page with its equations as MathML, and how many there were.
pub(crate) fn drawn(page: &str) -> Result<(String, usize), Wrong> {
    let pen = LatexToMathML::new(MathCoreConfig::default()).map_err(|(error, ..)| Wrong {
        line: 0,
        latex: String::new(),
        reason: error.to_string(),
    })?;
    let (mut text, mut done, mut count) = (String::with_capacity(2 * page.len()), 0, 0);
    for Equation {
        place,
        latex,
        display,
    } in equations(page)
    {
        let wrong = |reason: String| Wrong {
            line: 1 + page.get(..place.start).unwrap_or("").matches('\n').count(),
            latex: latex.to_owned(),
            reason,
        };
        let drawn = pen
            .convert_with_local_state(latex, display)
            .map_err(|error| wrong(error.to_string()))?;
        text.push_str(page.get(done..place.start).unwrap_or(""));
        text.push_str(&markdown_proof(&drawn.mathml));
        done = place.end;
        count += 1;
    }
    if let Some(at) = stray_sign(page.get(done..).unwrap_or("")) {
        return Err(Wrong {
            line: 1 + page.get(..done + at).unwrap_or("").matches('\n').count(),
            latex: String::new(),
            reason: "this sign opens an equation that nothing closes; a plain one is written \\$"
                .to_owned(),
        });
    }
    text.push_str(page.get(done..).unwrap_or(""));
    Ok((text, count))
}

#[derive(Debug, PartialEq)]
struct Equation<'a> {
    /// Where it stands, signs included.
    place: Range<usize>,
    latex: &'a str,
    display: MathDisplay,
}

/// What a stretch of a page is.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    /// Code in backticks or behind a fence, or an escaped sign.
    Verbatim,
    Inline,
    Display,
}

/// The equations of a page in order; signs in code and behind a backslash are none.
fn equations(page: &str) -> Vec<Equation<'_>> {
    stretches(page)
        .into_iter()
        .filter_map(|(kind, place)| {
            let (signs, display) = match kind {
                Kind::Verbatim => return None,
                Kind::Inline => (1, MathDisplay::Inline),
                Kind::Display => (2, MathDisplay::Block),
            };
            let latex = page.get(place.start + signs..place.end - signs)?.trim();
            Some(Equation {
                place,
                latex,
                display,
            })
        })
        .collect()
}

/// A dollar sign in text outside of code.
fn stray_sign(text: &str) -> Option<usize> {
    let verbatim = stretches(text);
    text.match_indices('$')
        .map(|(at, _)| at)
        .find(|at| !verbatim.iter().any(|(_, place)| place.contains(at)))
}

fn stretches(page: &str) -> Vec<(Kind, Range<usize>)> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(rest) = page.get(at..) {
        let Some(offset) = rest.find(['`', '$', '\\', '~']) else {
            break;
        };
        let start = at + offset;
        let rest = page.get(start..).unwrap_or("");
        let end_after = |signs: usize, closing: &str| {
            rest.get(signs..)
                .and_then(|body| body.find(closing))
                .map(|body| start + signs + body + closing.len())
        };
        let first_in_line = page
            .get(..start)
            .and_then(|before| before.rsplit('\n').next())
            .is_some_and(|before| before.trim().is_empty());
        let (kind, end) = if rest.starts_with('\\') {
            let escaped = rest.chars().nth(1).map_or(0, char::len_utf8);
            (Kind::Verbatim, start + 1 + escaped)
        } else if first_in_line && (rest.starts_with("```") || rest.starts_with("~~~")) {
            let fence = rest.get(..3).unwrap_or("```");
            let closed = end_after(3, &format!("\n{fence}"));
            (Kind::Verbatim, closed.unwrap_or(page.len()))
        } else if rest.starts_with('`') {
            let ticks = rest.len() - rest.trim_start_matches('`').len();
            let closed = end_after(ticks, &"`".repeat(ticks));
            (Kind::Verbatim, closed.unwrap_or(start + ticks))
        } else if rest.starts_with("$$") {
            match end_after(2, "$$") {
                Some(end) => (Kind::Display, end),
                None => break,
            }
        } else if rest.starts_with('$') {
            match end_after(1, "$") {
                Some(end) => (Kind::Inline, end),
                None => break,
            }
        } else {
            (Kind::Verbatim, start + 1)
        };
        found.push((kind, start..end));
        at = end;
    }
    found
}

/// MathML on one line whose text no Markdown reader takes for markup: `*`, `_`, `[`, `|` and their like as entities.
fn markdown_proof(mathml: &str) -> String {
    let mut text = String::with_capacity(mathml.len());
    let (mut in_tag, mut in_entity) = (false, false);
    for letter in mathml.chars() {
        match letter {
            '<' => in_tag = true,
            '>' if in_tag => {
                in_tag = false;
                text.push('>');
                continue;
            }
            '&' => in_entity = true,
            ';' if in_entity => {
                in_entity = false;
                text.push(';');
                continue;
            }
            '\n' => {
                text.push(' ');
                continue;
            }
            _ => {}
        }
        let is_markup = matches!(
            letter,
            '*' | '_' | '[' | ']' | '`' | '~' | '|' | '\\' | '!' | '$'
        );
        if is_markup && !in_tag {
            text.push_str("&#");
            text.push_str(&u32::from(letter).to_string());
            text.push(';');
        } else {
            text.push(letter);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn latex(page: &str) -> Vec<&str> {
        equations(page).iter().map(|e| e.latex).collect()
    }

    #[test]
    fn equations_stand_between_signs_but_not_in_code() {
        let page = "A $x$ and $$y$$ at \\$5, `$z$`, ``a ` $b$``.\n\n```sh\n$ cargo $PATH\n```\n\n~~~\n$ no\n~~~\nThen $w$.\n";
        assert_eq!(latex(page), ["x", "y", "w"]);
        let kinds: Vec<_> = equations(page).iter().map(|e| e.display).collect();
        assert_eq!(
            kinds,
            [MathDisplay::Inline, MathDisplay::Block, MathDisplay::Inline]
        );
        assert_eq!(latex("$$\na\n= b\n$$"), ["a\n= b"]);
        assert_eq!(latex("| $|x|$ | `y$` |"), ["|x|"]);
    }

    #[test]
    fn a_page_keeps_its_text() {
        let (page, count) = drawn("A $p_a$ b.\n\n$$ T^* $$\n").unwrap();
        assert_eq!(count, 2);
        assert!(
            page.starts_with("A <math><msub><mi>p</mi><mi>a</mi></msub></math> b."),
            "{page}"
        );
        assert!(page.contains("<math display=\"block\">") && page.ends_with('\n'));
        assert!(!page.contains('$'));
        assert_eq!(drawn("no `$` here").unwrap().0, "no `$` here");
    }

    #[test]
    fn no_letter_of_an_equation_is_markup() {
        let (page, _) = drawn("| $|a| * [b]_c$ |").unwrap();
        let inside = page.trim_matches(['|', ' ']);
        assert!(!inside.contains(['*', '_', '[', ']', '|']), "{inside}");
    }

    #[test]
    fn a_wrong_equation_is_named_with_its_line() {
        let error = drawn("one\n\ntwo $\\frac{a$\n").unwrap_err().to_string();
        assert!(error.starts_with("line 3: $\\frac{a$: "), "{error}");
        let error = drawn("$a$\nhalf $b\n").unwrap_err().to_string();
        assert!(
            error.contains("line 2") && error.contains("nothing closes"),
            "{error}"
        );
        assert!(drawn("$\\unknowncommand$").is_err());
    }
}
