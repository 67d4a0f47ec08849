//! What a tested volume is taken from, how well it is known, and which one more measurement would narrow it most.

use std::fmt;

use casetight::caution;
use casetight::measured::Measured;
use casetight::quantity::{TradeUnits, Volume};
use casetight::volume::{Typical, USUAL_RIG_CM3};

/// A measurement is proposed where it leaves no more than this part of the uncertainty.
const WORTH_IT: f64 = 0.8;

/// So many are proposed at most.
const MOST: usize = 3;

/// One more measurement of a tested volume, or of what it follows from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Measurement {
    /// The primary compression ratio, and with it where the piston stands.
    PrimaryRatio,
    /// Where the piston stood.
    Position,
    /// Hose and gauge.
    Rig,
    /// The liquid that fills the case, weighed; hose and gauge are known.
    Filling,
    /// The same, hose and gauge measured too.
    FillingAndRig,
    /// Counted strokes of a hand pump.
    Strokes,
    /// Gas let in from a bottle of known volume.
    Expansion,
}

impl Measurement {
    /// Every one.
    pub const ALL: [Self; 7] = [
        Self::PrimaryRatio,
        Self::Position,
        Self::Rig,
        Self::Filling,
        Self::FillingAndRig,
        Self::Strokes,
        Self::Expansion,
    ];

    /// Its name in a document.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::PrimaryRatio => "primary compression ratio",
            Self::Position => "piston",
            Self::Rig => "rig",
            Self::Filling => "fill",
            Self::FillingAndRig => "fill and rig",
            Self::Strokes => "strokes",
            Self::Expansion => "expansion",
        }
    }

    /// What would be done.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::PrimaryRatio => {
                "the primary compression ratio from the maker's data, and where the piston stands,"
            }
            Self::Position => "saying where the piston stood",
            Self::Rig => "measuring the volume of hose and gauge",
            Self::Filling => "weighing the liquid that fills the case",
            Self::FillingAndRig => {
                "weighing the liquid that fills the case, and measuring hose and gauge,"
            }
            Self::Strokes => "counting the strokes of a hand pump",
            Self::Expansion => "letting gas in from a bottle of known volume",
        }
    }

    /// What stands beside it wherever it is proposed.
    #[must_use]
    pub fn cautions(self) -> &'static [&'static str] {
        match self {
            Self::PrimaryRatio | Self::Position | Self::Rig => &[],
            Self::Filling | Self::FillingAndRig => caution::BEFORE_FILLING,
            Self::Strokes | Self::Expansion => caution::BEFORE_PUMPING,
        }
    }
}

/// What one more measurement would make of a volume.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Narrowing {
    /// The measurement.
    pub measurement: Measurement,
    /// Relative standard uncertainty of the volume, by it and by what is known already \[1\].
    pub relative_uncertainty: f64,
}

/// What stands in a volume for what nobody stated. Its `Display` says what it is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Taken {
    /// What is typical of two-stroke engines.
    Typical(Typical),
    /// A usual hose and gauge.
    UsualRig,
}

impl fmt::Display for Taken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Typical(typical) => typical.fmt(f),
            Self::UsualRig => {
                let (least, most) = USUAL_RIG_CM3;
                write!(f, "a usual hose and gauge of {least} to {most} cm3")
            }
        }
    }
}

/// How well a volume is known, and what would narrow it. Its `Display` says so in a sentence or two.
#[derive(Debug, Clone, PartialEq)]
pub struct VolumeOutlook {
    /// The volume as it is known.
    pub volume: Measured<Volume>,
    /// What stands in it for what nobody stated, the gravest first.
    pub taken: Vec<Taken>,
    /// Up to three measurements that would narrow it, the best first; none where no usual one would by much.
    pub ways: Vec<Narrowing>,
}

impl VolumeOutlook {
    /// Of all measurements, those that are worth it.
    #[must_use]
    pub fn new(volume: Measured<Volume>, taken: Vec<Taken>, mut ways: Vec<Narrowing>) -> Self {
        let worth_it = WORTH_IT * volume.relative().unwrap_or(0.0);
        ways.retain(|way| way.relative_uncertainty <= worth_it);
        ways.sort_by(|a, b| a.relative_uncertainty.total_cmp(&b.relative_uncertainty));
        ways.truncate(MOST);
        Self {
            volume,
            taken,
            ways,
        }
    }

    /// Relative standard uncertainty of the volume as it is known \[1\].
    #[must_use]
    pub fn relative_uncertainty(&self) -> f64 {
        self.volume.relative().unwrap_or(0.0)
    }

    /// The measurement that would narrow it most, in a sentence; none where no usual one would by much.
    #[must_use]
    pub fn best_in_short(&self) -> Option<String> {
        let best = self.ways.first()?;
        let (words, to) = (best.measurement.words(), percent(best.relative_uncertainty));
        let from = percent(self.relative_uncertainty());
        Some(format!(
            "{} would bring it from {from} to about {to}",
            capital(words)
        ))
    }

    /// The cautions of what is proposed, each once.
    #[must_use]
    pub fn cautions(&self) -> Vec<&'static str> {
        let mut said: Vec<&'static str> = Vec::new();
        for caution in self.ways.iter().flat_map(|way| way.measurement.cautions()) {
            if !said.contains(caution) {
                said.push(caution);
            }
        }
        said
    }

    /// What the volume is taken from; nothing where all is stated.
    fn say_taken(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.taken.is_empty() {
            return Ok(());
        }
        f.write_str(": what nobody stated is taken as ")?;
        for (place, taken) in self.taken.iter().enumerate() {
            f.write_str(match place {
                0 => "",
                _ if place + 1 == self.taken.len() => " and ",
                _ => ", ",
            })?;
            write!(f, "{taken}")?;
        }
        Ok(())
    }
}

/// As a sentence begins.
fn capital(words: &str) -> String {
    let first = words.chars().take(1).flat_map(char::to_uppercase);
    first.chain(words.chars().skip(1)).collect()
}

/// "16 %", "2.4 %".
fn percent(relative: f64) -> String {
    let percent = 100.0 * relative;
    let decimals = usize::from(percent < 9.95);
    format!("{percent:.decimals$} %")
}

impl fmt::Display for VolumeOutlook {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let known = percent(self.relative_uncertainty());
        let volume = self.volume.value().trade().digits(3);
        write!(
            f,
            "The volume under test, {volume}, is known to {known} (standard uncertainty)"
        )?;
        self.say_taken(f)?;
        for (place, way) in self.ways.iter().enumerate() {
            let words = way.measurement.words();
            let to = percent(way.relative_uncertainty);
            match place {
                0 => write!(f, ". {} would bring it to about {to}", capital(words))?,
                _ => write!(f, "; {words} to about {to}")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use casetight::measured::{Distribution, Evaluation};

    fn outlook(taken: Vec<Taken>, ways: &[(Measurement, f64)]) -> VolumeOutlook {
        let cm3 = |value: f64| Volume::from_si_value(value * 1e-6).unwrap();
        let normal = Evaluation::TypeB(Distribution::Normal);
        let volume = Measured::new(cm3(200.0), cm3(40.0), normal).unwrap();
        let way = |&(measurement, relative_uncertainty)| Narrowing {
            measurement,
            relative_uncertainty,
        };
        VolumeOutlook::new(volume, taken, ways.iter().map(way).collect())
    }

    #[test]
    fn the_best_comes_first_and_what_is_not_worth_it_not_at_all() {
        use Measurement::{Expansion, Filling, Position, PrimaryRatio, Rig, Strokes};
        let found = outlook(
            Vec::new(),
            &[
                (PrimaryRatio, 0.05),
                (Position, 0.19),
                (Filling, 0.011),
                (Rig, f64::NAN),
                (Strokes, 0.0996),
                (Expansion, 0.15),
            ],
        );
        let each: Vec<Measurement> = found.ways.iter().map(|way| way.measurement).collect();
        assert_eq!(each, [Filling, PrimaryRatio, Strokes]);
        assert_eq!(
            found.to_string(),
            "The volume under test, 200 cm3, is known to 20 % (standard uncertainty). Weighing the liquid that fills the case would \
             bring it to about 1.1 %; the primary compression ratio from the maker's data, and where the piston stands, to about \
             5.0 %; counting the strokes of a hand pump to about 10 %"
        );
        assert_eq!(
            found.best_in_short().as_deref(),
            Some("Weighing the liquid that fills the case would bring it from 20 % to about 1.1 %")
        );
        let cautions = [caution::BEFORE_FILLING, caution::BEFORE_PUMPING].concat();
        assert_eq!(found.cautions(), cautions);
    }

    #[test]
    fn what_stands_for_what_nobody_stated_is_said() {
        let taken = vec![
            Taken::Typical(Typical::PrimaryRatio),
            Taken::Typical(Typical::Position),
            Taken::UsualRig,
        ];
        let found = outlook(taken, &[]);
        assert!(found.cautions().is_empty());
        assert_eq!(
            found.to_string(),
            "The volume under test, 200 cm3, is known to 20 % (standard uncertainty): what nobody stated is taken as a primary \
             compression ratio of 1.3 to 1.6, a piston that stands anywhere and a usual hose and gauge of 10 to 40 cm3"
        );
    }
}
