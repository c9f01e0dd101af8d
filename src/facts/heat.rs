//! Facts on heat: temperatures of parts, coolers, condensate, ice, warm inlet air.

use super::flow::COMING;
use super::graph::{row, with_part};
use super::points::{at_place, datum, num, over_sites, over_stations};
use super::registry::{Fold, Row, Series};
use super::scope::Scope;
use super::steady::worst;
use crate::build::engine::FuelEntry;
use crate::build::parts::{Body, CooledBy, InletPlace, Part, PartKind};
use crate::build::scalars::Text;
use crate::known::{Datum, Kind, Known, Missing, Read, Reads, Setting, State};
use crate::physics::{cooler, humidity, strength};
use crate::text::Dim;
use crate::tract::{Subject, SubjectKind};

const PART: &[SubjectKind] = &[SubjectKind::Part];
const COOLER: &[SubjectKind] = &[SubjectKind::ChargeAirCooler];
const FILTER: &[SubjectKind] = &[SubjectKind::AirFilter];
const THROTTLE: &[SubjectKind] = &[SubjectKind::Throttle];

/// The rows.
pub(super) static ROWS: &[Row] = &[
    worst(
        "temperature_max",
        Dim::TEMPERATURE,
        PART,
        "highest temperature of the air in the part, or where its tap sits, over all points and sites; points left of the surge line are passed over",
        Fold::Max,
        |scope, subject| {
            at_place(scope, subject, |here| {
                if here.solution.is_left_of_surge() {
                    return Some(Known::not_applicable("the point lies left of the surge line"));
                }
                Some(here.num(here.station.highest_temperature(), Dim::TEMPERATURE))
            })
        },
    ),
    row(
        "temperature_rating",
        Kind::Number(Dim::TEMPERATURE),
        PART,
        "highest temperature that the part stands: as described, else that of its material in lasting use",
        temperature_rating,
    ),
    worst(
        "density_gain_min",
        Dim::ONE,
        COOLER,
        "density of the charge behind the cooler over that ahead of it; the smallest over sites and points at which at least half of the highest boost is asked for",
        Fold::Min,
        |scope, subject| {
            let table = scope.build().top.boost.get(scope);
            let wanted = |speed: f64| table.exact().and_then(|table| table.at(speed)).unwrap_or(0.0);
            let all = table.exact().map_or(&[][..], |table| &table.entries);
            let highest = all.iter().map(|entry| entry.value.si()).fold(0.0, f64::max);
            over_stations(scope, &subject.name, |here| {
                if here.point.off_boost || wanted(here.point.speed) < COMING * highest {
                    return None;
                }
                let (inlet, outlet) = (here.station.inlet, here.station.outlet);
                let gain = (outlet.pressure / outlet.temperature) / (inlet.pressure / inlet.temperature);
                Some(here.num(gain, Dim::ONE))
            })
        },
    ),
    worst(
        "heat_max",
        Dim::POWER,
        COOLER,
        "most heat that the cooler takes from the charge, over all points and sites",
        Fold::Max,
        |scope, subject| {
            over_stations(scope, &subject.name, |here| Some(here.num(-here.station.power(), Dim::POWER)))
        },
    ),
    row("cooled_by", Kind::Word, COOLER, "what cools the cooler, as described", |scope, subject| {
        with_part(scope, subject, |part| match &part.body {
            Body::ChargeAirCooler(cooler) => cooler.cooled_by.get(scope).map(|by| Datum::word(by.word())),
            _ => Known::missing(&subject.route),
        })
    }),
    worst(
        "coolant_rise_max",
        Dim::TEMPERATURE,
        COOLER,
        "by how much the cooling water warms on its way through the cooler, at most over points and sites",
        Fold::Max,
        coolant_rise,
    ),
    worst(
        "condensate_rate_max",
        Dim::MASS_FLOW,
        COOLER,
        "water that falls out of the charge in the cooler: what its vapour is above saturation behind the cooler, at most over points and sites",
        Fold::Max,
        |scope, subject| {
            over_stations(scope, &subject.name, |here| {
                let w = here.site.humidity_ratio;
                let air = here.station.outlet;
                let rate =
                    cooler::condensate(here.station.flow / (1.0 + w), w, air.temperature, air.pressure);
                Some(rate.map_or_else(
                    || Known::Open(Missing::hindrance("out of the range of the vapour table")),
                    |rate| here.num(rate, Dim::MASS_FLOW),
                ))
            })
        },
    ),
    row(
        "wetted_by_fuel",
        Kind::Bool,
        THROTTLE,
        "whether fuel evaporates ahead of or at the throttle: a carburettor, or fuel that enters ahead of the compressor",
        wetted_by_fuel,
    ),
    worst(
        "icing_margin",
        Dim::TEMPERATURE,
        THROTTLE,
        "by how much the throttle plate stays above both 0 degC and its air's dew point, with the site's air cooled by evaporating fuel; the smallest over the sites",
        Fold::Min,
        icing_margin,
    ),
    worst(
        "inlet_air_rise",
        Dim::TEMPERATURE,
        FILTER,
        "by how much the air that the filter draws is warmer than the air outside",
        Fold::Max,
        inlet_air_rise,
    ),
];

fn temperature_rating(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        if !matches!(part.common.temperature_rating.state(scope), State::Absent) {
            return part
                .common
                .temperature_rating
                .get(scope)
                .and_then(|rating| datum(rating.si(), Dim::TEMPERATURE));
        }
        material(scope, part, part.common.temperature_rating.route()).and_then(|material| {
            let words = format!("what {} stands in lasting use ({})", material.name, material.source);
            scope.note(Read::Default {
                field: part.common.temperature_rating.route().clone(),
                words: words.into(),
            });
            datum(material.temperature, Dim::TEMPERATURE)
        })
    })
}

/// The material of a part, where the table has it; else open for want of `instead` too.
pub(super) fn material(
    scope: &Scope<'_>,
    part: &Part,
    instead: &crate::text::Route,
) -> Known<&'static strength::Material> {
    let field = &part.common.material;
    match field.state(scope) {
        State::Given(Text(name)) => strength::material(name).map_or_else(
            || {
                let words = format!("the material `{name}` is not in the table of what materials stand");
                Known::Open(Missing::hindrance(words).join(Missing::field(instead)))
            },
            Known::Is,
        ),
        _ => Known::Open(Missing::field(instead).join(Missing::field(field.route()))),
    }
}

/// Heat capacity of water by volume, J/(m3 K): 1000 kg/m3 and 4186 J/(kg K) (IAPWS, at 20 to 60 degC within 2 %).
const WATER: f64 = 4.186e6;

fn coolant_rise(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let Body::ChargeAirCooler(body) = &part.body else { return vec![Known::missing(&subject.route)] };
    let flow = body.cooled_by.get(scope).and_then(|by| match by {
        CooledBy::Air => Known::not_applicable("the cooler is cooled by air"),
        CooledBy::Water => body.coolant_flow.get(scope).map(|flow| flow.si()),
    });
    match flow {
        Known::Is(flow) => over_stations(scope, &subject.name, |here| {
            Some(here.num(-here.station.power() / (flow * WATER), Dim::TEMPERATURE))
        }),
        other => vec![other.and_then(|_| Known::missing(&subject.route))],
    }
}

fn wetted_by_fuel(scope: &Scope<'_>, subject: &Subject) -> Known<Datum> {
    with_part(scope, subject, |part| {
        part.kind.get(scope).and_then(|kind| {
            if *kind == PartKind::Carburettor {
                return Known::Is(Datum::Bool(true));
            }
            scope.build().top.engine.get(scope).and_then(|engine| {
                engine.fuel_enters.get(scope).map(|entry| Datum::Bool(*entry == FuelEntry::AheadOfCompressor))
            })
        })
    })
}

fn icing_margin(scope: &Scope<'_>, _: &Subject) -> Series {
    let drop = scope.setting(Setting::IcingTemperatureDrop).v;
    over_sites(scope, |site| {
        let plate = site.temperature - drop;
        let dew = humidity::dew_point(site.humidity_ratio, site.pressure);
        match dew {
            // Ice needs a plate below freezing and air that is damper than the plate lets it be.
            Some(dew) => num((plate - 273.15).max(plate - dew), Dim::TEMPERATURE),
            // Air without water makes no ice.
            None => Known::not_applicable("the air holds no water"),
        }
    })
}

fn inlet_air_rise(scope: &Scope<'_>, subject: &Subject) -> Series {
    let Some(part) = scope.tract().part_of(subject) else { return vec![Known::missing(&subject.route)] };
    let Body::AirFilter(filter) = &part.body else { return vec![Known::missing(&subject.route)] };
    let value = match filter.draws_from.state(scope) {
        State::Given(from) => match from.warmer_by.state(scope) {
            State::Absent => from.place.get(scope).and_then(|place| match place {
                InletPlace::Outside => num(0.0, Dim::TEMPERATURE),
                InletPlace::BehindRadiator | InletPlace::EngineBay => Known::missing(from.warmer_by.route()),
            }),
            _ => from.warmer_by.get(scope).and_then(|rise| num(rise.si(), Dim::TEMPERATURE)),
        },
        State::Absent => {
            let words = "the filter is taken to draw air from outside, as nothing else is said";
            scope.note(Read::Default { field: filter.draws_from.route().clone(), words: words.into() });
            num(0.0, Dim::TEMPERATURE)
        }
        State::SaidNone | State::Faulty => Known::missing(filter.draws_from.route()),
    };
    vec![value]
}
