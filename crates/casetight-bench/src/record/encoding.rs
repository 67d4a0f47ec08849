//! Whether bytes are text.

use std::fmt;

use encoding_rs::UTF_8;

/// What bytes look like that are not UTF-8 text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Encoding {
    /// UTF-16, by its byte order mark or by the zero bytes between its letters.
    Utf16,
    /// Letters above ASCII in some code page, or no text at all.
    Unknown,
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Utf16 => "looks like UTF-16 text or a binary file",
            Self::Unknown => "is not UTF-8 text",
        })
    }
}

/// Bytes that are not the encoding that is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("encoding: byte {offset} (line {line}) {encoding}; save the file as UTF-8")]
pub struct EncodingError {
    /// The first byte at fault, counted from 0.
    pub offset: u64,
    /// The line that it is in, counted from 1.
    pub line: u64,
    /// What it looks like.
    pub encoding: Encoding,
}

/// The text of these bytes, which start at this offset and line of a file; a byte order mark at the file's start is left
/// out.
pub(crate) fn text_of(bytes: &[u8], offset: u64, line: u64) -> Result<&str, EncodingError> {
    let fault = |encoding, before: &[u8]| EncodingError {
        offset: offset + before.len() as u64,
        line: line - 1 + before.split(|byte| *byte == b'\n').count() as u64,
        encoding,
    };
    let mark = encoding_rs::Encoding::for_bom(bytes).filter(|_| offset == 0);
    let mark = match mark {
        None => 0,
        Some((encoding, length)) if encoding == UTF_8 => length,
        Some(_) => return Err(fault(Encoding::Utf16, &[])),
    };
    let mut parts = bytes.split(|byte| *byte == 0);
    let before_zero = parts.next().unwrap_or_default();
    let text = std::str::from_utf8(before_zero).map_err(|error| {
        let before = before_zero.get(..error.valid_up_to()).unwrap_or_default();
        fault(Encoding::Unknown, before)
    })?;
    if parts.next().is_some() {
        return Err(fault(Encoding::Utf16, before_zero));
    }
    Ok(text.get(mark..).unwrap_or(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_and_faults() {
        assert_eq!(text_of(b"\xEF\xBB\xBFa", 0, 1), Ok("a"));
        assert_eq!(text_of("\u{b5}".as_bytes(), 0, 1), Ok("\u{b5}"));
        assert_eq!(text_of(b"", 0, 1), Ok(""));
        for (bytes, offset, line, encoding) in [
            (&b"\xFF\xFEa\0"[..], 0, 1, Encoding::Utf16),
            (b"\xFE\xFF\0a", 0, 1, Encoding::Utf16),
            (b"a\0b\0", 1, 1, Encoding::Utf16),
            (b"a\n\xB5m", 2, 2, Encoding::Unknown),
            // A letter that is cut off.
            (b"a\n\n\xC2", 3, 3, Encoding::Unknown),
        ] {
            let expected = EncodingError {
                offset,
                line,
                encoding,
            };
            assert_eq!(text_of(bytes, 0, 1), Err(expected), "{bytes:?}");
        }
        // Further on in a file.
        let error = text_of(b"ab\xFF", 100, 7).unwrap_err();
        assert_eq!((error.offset, error.line), (102, 7));
    }
}
