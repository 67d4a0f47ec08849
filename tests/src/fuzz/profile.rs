//! Foreign files by a reading profile: the profile in TOML, a line of three hyphens, and the file.

use casetight::quantity::AbsolutePressure;
use casetight_bench::record::ReadingProfile;

use super::trace::whole;
use super::{Fault, ensure, readable};

const BETWEEN: &[u8] = b"\n---\n";

/// Any bytes as a profile and a file.
///
/// # Errors
/// What is wrong with the answer.
pub fn invariant(bytes: &[u8]) -> Result<(), Fault> {
    let at = bytes.windows(BETWEEN.len()).position(|w| w == BETWEEN);
    let (profile, file) = bytes.split_at(at.unwrap_or(0));
    let file = file.strip_prefix(BETWEEN).unwrap_or(file);
    let profile = std::str::from_utf8(profile).unwrap_or_default();
    let Ok(profile) = toml::from_str::<ReadingProfile>(profile) else {
        return Ok(());
    };
    let checked = profile.check();
    let ambient = AbsolutePressure::from_pascals(101_325.0).ok();
    match profile.read(file, ambient) {
        Ok(trace) => {
            ensure(checked.is_ok(), || format!("read in spite of {checked:?}"))?;
            whole(&trace)
        }
        Err(error) => {
            if let Err(error) = &checked {
                readable(error)?;
            }
            readable(&error)
        }
    }
}
