//! Bytes of an encoding as UTF-8, as they stream in.

use std::io::{self, Read};

use serde::{Deserialize, Serialize};

/// How a file's bytes stand for letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[non_exhaustive]
pub enum TextEncoding {
    /// UTF-8, with or without a byte order mark.
    #[default]
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16, low byte first, with or without a byte order mark.
    #[serde(rename = "utf-16le")]
    Utf16Le,
    /// ISO 8859-1: each byte is the letter of that number.
    #[serde(rename = "latin-1")]
    Latin1,
}

impl TextEncoding {
    /// The encodings by the names that a profile has for them.
    pub const NAMES: [(&'static str, Self); 3] = [
        ("utf-8", Self::Utf8),
        ("utf-16le", Self::Utf16Le),
        ("latin-1", Self::Latin1),
    ];
}

const BLOCK: usize = 1 << 14;

/// UTF-8 from bytes of another encoding; UTF-8 passes as it is. What is no letter becomes U+FFFD, which no number holds.
pub(super) struct Decoded<R> {
    source: R,
    encoding: TextEncoding,
    out: Vec<u8>,
    given: usize,
    /// First byte of a pair.
    low: Option<u8>,
    /// First half of a letter of two.
    high: Option<u16>,
    started: bool,
}

impl<R: Read> Decoded<R> {
    pub(super) fn new(source: R, encoding: TextEncoding) -> Self {
        Self {
            source,
            encoding,
            out: Vec::new(),
            given: 0,
            low: None,
            high: None,
            started: false,
        }
    }

    fn push(&mut self, letter: char) {
        let mark = !self.started && letter == '\u{feff}';
        self.started = true;
        if !mark {
            let mut bytes = [0; 4];
            self.out.extend(letter.encode_utf8(&mut bytes).bytes());
        }
    }

    fn push_unit(&mut self, unit: u16) {
        let units = [self.high.take(), Some(unit)].into_iter().flatten();
        let letters: Vec<Result<char, u16>> = char::decode_utf16(units)
            .map(|letter| letter.map_err(|half| half.unpaired_surrogate()))
            .collect();
        let last = letters.len().saturating_sub(1);
        for (place, letter) in letters.into_iter().enumerate() {
            match letter {
                Ok(letter) => self.push(letter),
                // The other half may follow.
                Err(half) if place == last && (0xD800..0xDC00).contains(&half) => {
                    self.high = Some(half);
                }
                Err(_) => self.push(char::REPLACEMENT_CHARACTER),
            }
        }
    }

    /// Decodes the next block; whether there was one.
    fn fill(&mut self) -> io::Result<bool> {
        self.out.clear();
        self.given = 0;
        let mut block = [0; BLOCK];
        while self.out.is_empty() {
            let got = match self.source.read(&mut block) {
                Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
                got => got?,
            };
            for byte in block.iter().take(got).copied() {
                match (self.encoding, self.low.take()) {
                    (TextEncoding::Utf16Le, None) => self.low = Some(byte),
                    (TextEncoding::Utf16Le, Some(low)) => {
                        self.push_unit(u16::from_le_bytes([low, byte]));
                    }
                    _ => self.push(char::from(byte)),
                }
            }
            if got == 0 {
                if self.low.take().is_some() || self.high.take().is_some() {
                    self.push(char::REPLACEMENT_CHARACTER);
                }
                break;
            }
        }
        Ok(!self.out.is_empty())
    }
}

impl<R: Read> Read for Decoded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.encoding == TextEncoding::Utf8 {
            return self.source.read(into);
        }
        if self.given == self.out.len() && !self.fill()? {
            return Ok(0);
        }
        let mut rest = self.out.get(self.given..).unwrap_or_default();
        let got = rest.read(into)?;
        self.given += got;
        Ok(got)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn decoded(bytes: &[u8], encoding: TextEncoding) -> String {
        let mut text = String::new();
        Decoded::new(bytes, encoding)
            .read_to_string(&mut text)
            .unwrap();
        text
    }

    #[test]
    fn letters_of_each_encoding() {
        assert_eq!(decoded(b"20 \xB0C", TextEncoding::Latin1), "20 \u{b0}C");
        assert_eq!(
            decoded(b"\xFF\xFEa\0\xB0\0", TextEncoding::Utf16Le),
            "a\u{b0}"
        );
        // Unicode, table 3-5: U+10302 is D800 DF02.
        assert_eq!(
            decoded(b"\x00\xD8\x02\xDFb\0", TextEncoding::Utf16Le),
            "\u{10302}b"
        );
        // Halves without their other one, and a byte without its pair.
        assert_eq!(
            decoded(b"\x00\xD8b\0\x02\xDFc", TextEncoding::Utf16Le),
            "\u{fffd}b\u{fffd}\u{fffd}"
        );
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "\\PC{0,40}") {
            let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
            prop_assert_eq!(decoded(&bytes, TextEncoding::Utf16Le), text.trim_start_matches('\u{feff}'));
        }

        #[test]
        fn any_bytes_are_text(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
            prop_assert_eq!(decoded(&bytes, TextEncoding::Latin1).chars().count(), bytes.len());
            let _ = decoded(&bytes, TextEncoding::Utf16Le);
        }
    }
}
