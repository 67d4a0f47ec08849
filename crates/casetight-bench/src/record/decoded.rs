//! Bytes of an encoding as UTF-8, as they stream in. The letters are `encoding_rs`'s, the `Read` around its decoder is ours:
//! DEVELOPERS.md, "Ours, and why".

use std::io::{self, Read};

use encoding_rs::{Decoder, UTF_16LE, WINDOWS_1252};
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
    /// Windows-1252, which is what loggers write that say Latin-1, and what WHATWG's Encoding Standard reads under the label
    /// `latin1`: each byte is the letter of that number, as in ISO 8859-1, but for 0x80 to 0x9F, among which are the euro sign (0x80)
    /// and the dashes.
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
    /// None where the bytes are UTF-8 already.
    decoder: Option<Decoder>,
    text: String,
    given: usize,
    ended: bool,
}

impl<R: Read> Decoded<R> {
    pub(super) fn new(source: R, encoding: TextEncoding) -> Self {
        let decoder = match encoding {
            TextEncoding::Utf8 => None,
            TextEncoding::Utf16Le => Some(UTF_16LE.new_decoder_with_bom_removal()),
            TextEncoding::Latin1 => Some(WINDOWS_1252.new_decoder_with_bom_removal()),
        };
        Self {
            source,
            decoder,
            text: String::new(),
            given: 0,
            ended: false,
        }
    }
}

/// The letters of the next bytes; none at the end.
fn fill(
    source: &mut impl Read,
    decoder: &mut Decoder,
    text: &mut String,
    ended: &mut bool,
) -> io::Result<()> {
    text.clear();
    let mut block = [0; BLOCK];
    // A block may end within its only letter; after the last one the decoder is not to be asked again.
    while text.is_empty() && !*ended {
        let got = match source.read(&mut block) {
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            got => got?,
        };
        *ended = got == 0;
        let bytes = block.get(..got).unwrap_or_default();
        // The decoder fills what is reserved and no more; none is the answer for sizes near that of all memory.
        text.reserve(decoder.max_utf8_buffer_length(got).unwrap_or_default());
        let _ = decoder.decode_to_string(bytes, text, *ended);
    }
    Ok(())
}

impl<R: Read> Read for Decoded<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let Some(decoder) = &mut self.decoder else {
            return self.source.read(into);
        };
        if self.given == self.text.len() {
            self.given = 0;
            fill(&mut self.source, decoder, &mut self.text, &mut self.ended)?;
        }
        let mut rest = self.text.as_bytes().get(self.given..).unwrap_or_default();
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

    /// Gives a few bytes at a time, and is interrupted before each of them.
    struct Pieces<'b> {
        bytes: &'b [u8],
        step: usize,
        interrupted: bool,
    }

    impl Read for Pieces<'_> {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            self.interrupted = !self.interrupted;
            if self.interrupted {
                return Err(io::ErrorKind::Interrupted.into());
            }
            let most = self.step.min(into.len());
            self.bytes.read(&mut into[..most])
        }
    }

    /// WHATWG's index windows-1252: 0x80 is the euro sign, 0x96 the en dash; 0x81 and 0x9D have no letter and keep their number.
    #[test]
    fn latin_1_is_windows_1252() {
        assert_eq!(
            decoded(b"\x80\x81\x96\x9D\xA0\xFF", TextEncoding::Latin1),
            "\u{20ac}\u{81}\u{2013}\u{9d}\u{a0}\u{ff}"
        );
    }

    #[test]
    fn the_encoding_standard_reads_latin1_so_too() {
        for label in [b"latin1".as_slice(), b"iso-8859-1", b"windows-1252"] {
            let encoding = encoding_rs::Encoding::for_label(label);
            assert_eq!(encoding, Some(WINDOWS_1252));
        }
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

        /// Against the standard library, which decodes a whole text at once.
        #[test]
        fn any_units_are_those_of_the_standard_library(
            units in prop::collection::vec(prop_oneof![any::<u16>(), 0xD7F0_u16..0xE010, 0x20_u16..0x80], 0..100),
            step in 1_usize..7,
        ) {
            let bytes: Vec<u8> = units.iter().copied().flat_map(u16::to_le_bytes).collect();
            let unmarked = units.strip_prefix(&[0xFEFF]).unwrap_or(&units);
            let expected = String::from_utf16_lossy(unmarked);
            prop_assert_eq!(decoded(&bytes, TextEncoding::Utf16Le), &*expected);
            // In whatever pieces the bytes come, and however few letters are asked for.
            let mut pieces = Decoded::new(Pieces { bytes: &bytes, step, interrupted: false }, TextEncoding::Utf16Le);
            let mut got = Vec::new();
            let mut few = vec![0; step];
            while let count @ 1.. = pieces.read(&mut few).unwrap() {
                got.extend_from_slice(&few[..count]);
            }
            prop_assert_eq!(String::from_utf8(got).unwrap(), expected);
            // At the end nothing comes, however often it is asked for.
            prop_assert_eq!(pieces.read(&mut few).unwrap(), 0);
        }
    }
}
