//! `[volume]` to text.

use super::{Added, FillLiquid, Methods, Rates, With};
use crate::measured::Measured;
use crate::quantity::{TradeUnits, Unit};
use crate::sheet::USUAL;
use crate::sheet::write::{Text, exact_in, in_trade_units, number, quoted, uncertainty};
use crate::volume::{Piece, Sense, Shape};

impl Text {
    pub(in crate::sheet) fn methods(&mut self, methods: &Methods, unit: &Unit) {
        if let Some((dimensions, rig)) = &methods.engine {
            self.engine(dimensions, rig);
        }
        self.table("[volume]");
        if let Some(value) = &methods.value {
            self.measured("value", "uncertainty", value);
        }
        if !methods.shared.is_empty() {
            let names: Vec<String> = methods.shared.iter().map(|name| quoted(name)).collect();
            self.line("shared", format_args!("[{}]", names.join(", ")));
        }
        self.pair("gauge_zero", methods.gauge_zero.as_ref());
        self.pair("temperature", methods.temperature.as_ref());
        if let Some(within) = methods.settled_within {
            self.quantity("settled_within", within);
        }
        if let Some(with) = &methods.expansion {
            self.way("[volume.expansion]", with);
            self.pair("reference", Some(&with.method.reference));
            self.pair("before", Some(&with.method.before));
            self.pair("after", Some(&with.method.after));
        }
        if let Some(with) = &methods.rotation {
            self.way("[volume.rotation]", with);
            if let Some([bore, stroke, rod]) = &with.method.crank {
                self.pair("bore", Some(bore));
                self.pair("stroke", Some(stroke));
                self.pair("rod", Some(rod));
            }
            self.pair("from", Some(&with.method.from));
            self.pair("to", Some(&with.method.to));
            self.pair("before", Some(&with.method.before));
            self.pair("after", Some(&with.method.after));
            if let Some(loss) = &with.method.loss {
                let entries = [
                    entry("fall", &loss.fall),
                    entry("watched", &loss.watched),
                    entry("between", &loss.between),
                ];
                self.line("loss", format_args!("{{ {} }}", entries.join(", ")));
            }
        }
        self.strokes(methods, unit);
        self.added_leak(methods);
        self.fill(methods);
        if let Some(with) = &methods.parts {
            self.way("[volume.parts]", with);
            if let Some(u) = with.method.caliper_scale_uncertainty {
                self.quantity("caliper_scale_uncertainty", u);
            }
            for piece in &with.method.pieces {
                self.piece(piece);
            }
        }
    }

    fn strokes(&mut self, methods: &Methods, unit: &Unit) {
        let Some(with) = &methods.strokes else {
            return;
        };
        self.way("[volume.strokes]", with);
        self.pair("stroke_volume", Some(&with.method.stroke_volume));
        self.pair("delivery", with.method.delivery.as_ref());
        self.pair("dead_space", with.method.dead_space.as_ref());
        let readings = &with.method.readings;
        let rows: Vec<String> = readings
            .iter()
            .map(|read| {
                let pascals = read.reading.value().pascals();
                let shown =
                    exact_in(unit, pascals).map_or_else(|| unit.from_si(pascals), |(_, v)| v);
                format!("[{}, {}]", read.strokes, number(shown))
            })
            .collect();
        self.line("readings", format_args!("[{}]", rows.join(", ")));
        if let Some(first) = readings
            .first()
            .filter(|read| read.reading.source() != USUAL)
        {
            self.quantity("reading_uncertainty", first.reading.standard_uncertainty());
        }
    }

    fn added_leak(&mut self, methods: &Methods) {
        let Some(with) = &methods.added_leak else {
            return;
        };
        self.way("[volume.added_leak]", with);
        self.pair("known_area", Some(&with.method.known_area));
        match &with.method.rates {
            Rates::Stated { alone, together } => {
                self.pair("alone", Some(alone));
                self.pair("together", Some(together));
            }
            Rates::Runs { alone, together } => {
                self.quoted("alone_run", alone);
                self.quoted("together_run", together);
            }
        }
        if let Some(r) = with.method.rate_correlation {
            self.line("rate_correlation", number(r));
        }
    }

    fn fill(&mut self, methods: &Methods) {
        let Some(with) = &methods.fill else {
            return;
        };
        self.way("[volume.fill]", with);
        self.pair("empty", Some(&with.method.empty));
        self.pair("full", Some(&with.method.full));
        match &with.method.liquid {
            FillLiquid::Water { temperature } => {
                self.quoted("liquid", "water");
                self.pair("temperature", temperature.as_ref());
            }
            FillLiquid::OfDensity(density) => self.pair("density", Some(density)),
        }
        self.pair("trapped", Some(&with.method.trapped));
        if let Some(u) = with.method.balance_scale_uncertainty {
            self.quantity("balance_scale_uncertainty", u);
        }
        self.pair("air_density", with.method.air_density.as_ref());
    }

    fn piece(&mut self, piece: &Piece) {
        self.table("[[volume.parts.piece]]");
        self.quoted("name", &piece.name);
        let mut shape = |name, dimensions: &[(&str, &Measured<_>)]| {
            self.quoted("shape", name);
            for (key, length) in dimensions {
                self.pair(key, Some(*length));
            }
        };
        match &piece.shape {
            Shape::Cylinder { diameter, length } => {
                shape("cylinder", &[("diameter", diameter), ("length", length)]);
            }
            Shape::Annulus {
                outer,
                inner,
                length,
            } => shape(
                "annulus",
                &[("outer", outer), ("inner", inner), ("length", length)],
            ),
            Shape::Frustum {
                first,
                second,
                length,
            } => shape(
                "frustum",
                &[("first", first), ("second", second), ("length", length)],
            ),
            Shape::Block {
                length,
                width,
                height,
            } => shape(
                "block",
                &[("length", length), ("width", width), ("height", height)],
            ),
            Shape::Known { volume } => {
                self.quoted("shape", "known");
                self.pair("volume", Some(volume));
            }
        }
        if piece.sense == Sense::Solid {
            self.line("solid", true);
        }
        if piece.count != 1 {
            self.line("count", piece.count);
        }
    }

    /// A method's header and what is to be added.
    fn way<T>(&mut self, header: &str, with: &With<T>) {
        self.table(header);
        if with.add.is_empty() {
            return;
        }
        let spaces: Vec<String> = with.add.iter().map(space).collect();
        self.line("add", format_args!("[{}]", spaces.join(", ")));
    }

    /// A value and, under the same key with `_uncertainty`, its uncertainty.
    fn pair<Q>(&mut self, key: &str, value: Option<&Measured<Q>>)
    where
        Q: TradeUnits + crate::measured::Measurable<Spread: TradeUnits>,
    {
        if let Some(value) = value {
            self.measured(key, &format!("{key}_uncertainty"), value);
        }
    }
}

fn space(added: &Added) -> String {
    format!(
        "{{ name = {}, volume = {}, uncertainty = {} }}",
        quoted(&added.name),
        quoted(&in_trade_units(added.volume.value())),
        quoted(&uncertainty(&added.volume)),
    )
}

fn entry<Q>(key: &str, value: &Measured<Q>) -> String
where
    Q: TradeUnits + crate::measured::Measurable<Spread: TradeUnits>,
{
    let written = format!("{key} = {}", quoted(&in_trade_units(value.value())));
    if value.source() == USUAL {
        return written;
    }
    format!(
        "{written}, {key}_uncertainty = {}",
        quoted(&uncertainty(value))
    )
}
