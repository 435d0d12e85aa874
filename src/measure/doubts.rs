//! What of a photo is doubtful: the camera's own words, the location, the correction.

use crate::correct::{Correction, ToneSource};
use crate::locate::Located;
use crate::panel::Panel;
use crate::photo::{EncodingSource, Metadata, Photo};

/// Share of the patches' outlines below which too few were seen to say nothing: common practice, no source.
const FEW_OUTLINES: f64 = 0.75;

/// Holds for every photo of a usual set-up with one grey card: said once for all of them where photos are listed.
pub const ASSUMED_TONE: &str =
    "the camera's tone curve was assumed: too few neutral references to see it";

/// What a user of the readings should know, in words. Nothing of it changes a number.
pub(super) fn of(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    correction: &Correction,
) -> Vec<String> {
    let mut doubts = of_shot(photo);
    doubts.extend(of_location(panel, located));
    let encoding = photo.encoding.source;
    doubts.extend(of_correction(correction, &photo.metadata, encoding));
    doubts
}

/// What a user of a correction that was fitted to this photo should know beside.
pub(super) fn of_fit(
    photo: &Photo,
    panel: &Panel,
    located: &Located,
    correction: &Correction,
) -> Vec<String> {
    let mut doubts = of(photo, panel, located, correction);
    if photo.metadata.camera.is_none() {
        doubts.push(
            "the photo does not say which camera took it: the correction will be refused unless forced".to_owned(),
        );
    }
    if let Some(how) = balanced(&photo.metadata, photo.encoding.source) {
        doubts.push(format!(
            "{how}: it may be balanced otherwise in the next photo, and the card can hardly show a change of light; set the \
             balance by hand if the camera can"
        ));
    }
    doubts
}

fn of_shot(photo: &Photo) -> Vec<String> {
    let shot = &photo.metadata;
    let mut doubts = Vec::new();
    if photo.encoding.source == EncodingSource::AssumedSrgb {
        doubts.push("the file names no colour space: sRGB was assumed".to_owned());
    }
    if shot.flash_fired == Some(true) {
        doubts.push("the flash fired: its light is uneven and glares".to_owned());
    }
    if let Some(zoom) = shot.digital_zoom.filter(|it| *it > 1.0) {
        doubts.push(format!("digital zoom {zoom:.1}: pixels were made up"));
    }
    for it in &shot.processing {
        doubts.push(format!("processed in the camera: {it}"));
    }
    if shot.further_pictures > 0 {
        doubts.push(format!(
            "the file holds {} more pictures: the one that it names as its main picture was measured",
            shot.further_pictures
        ));
    }
    doubts.extend(shot.remarks.iter().cloned());
    if shot.gain_map {
        doubts.push("its gain map for HDR displays was left aside".to_owned());
    }
    doubts
}

fn of_location(panel: &Panel, located: &Located) -> Vec<String> {
    let mut doubts = Vec::new();
    if located.by_hand {
        doubts.push("the corners were given by hand".to_owned());
    }
    if located.quality.seen < FEW_OUTLINES {
        doubts.push(format!(
            "only {:.0} % of the patches' outlines were seen: compare the proof",
            100.0 * located.quality.seen
        ));
    }
    for (index, placed) in panel.cards.iter().enumerate() {
        if !located.cards.iter().any(|it| it.index == index) {
            doubts.push(format!(
                "card `{}` was not found: it calibrates nothing",
                placed.card.id
            ));
        }
    }
    doubts
}

/// A camera that balances white by itself hides a change of light from the card. Linear values are not balanced, or by what their
/// developer was told.
fn balanced(photo: &Metadata, encoding: EncodingSource) -> Option<&'static str> {
    if encoding.is_linear() {
        return None;
    }
    match photo.manual_white_balance {
        Some(true) => None,
        Some(false) => Some("the camera balanced white by itself"),
        None => Some("the file does not say that white was balanced by hand"),
    }
}

fn of_correction(
    correction: &Correction,
    photo: &Metadata,
    encoding: EncodingSource,
) -> Vec<String> {
    let mut doubts = Vec::new();
    if correction.tone.source == ToneSource::Assumed {
        doubts.push(ASSUMED_TONE.to_owned());
    }
    if let Some(saved) = &correction.saved {
        doubts.extend(saved.overruled.iter().map(|it| format!("overruled: {it}")));
        doubts.extend(balanced(photo, encoding).map(|how| {
            format!(
                "a saved correction was used, and {how}: the card can hardly show whether the light is the one that it was fitted in"
            )
        }));
    }
    if !correction.light.seen {
        doubts.push("nothing shows how even the light was: it was taken as even".to_owned());
    }
    if let Some(it) = correction.local_tone.filter(|it| it.is_seen()) {
        let [lift, sd] = it.lift().map(|it| 100.0 * it);
        doubts.push(format!(
            "local tone mapping: the camera made like surfaces {lift:.1} % (± {sd:.1} %) lighter among dark ones than among pale ones; what \
             could be seen of it was taken out; switch off HDR or scene processing if the camera can"
        ));
    }
    for it in correction.references.iter().filter(|it| it.weight <= 0.0) {
        doubts.push(format!(
            "{} does not fit the other references and was left out",
            it.reference.name
        ));
    }
    doubts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::Lab;
    use crate::correct::{
        ColourMap, CorrectionKind, LightField, Local, LocalTone, Terms, ToneCurve, UsedReference,
    };
    use crate::geometry::PlaneMap;
    use crate::locate::{LocatedCard, Quality};
    use crate::reference::{Origin, Reference, RegionIndex};
    use nalgebra::{Matrix2, Matrix3};

    #[test]
    fn a_card_that_was_not_found_and_unseen_outlines_are_told() {
        let text = "id = \"two-cards\"\n[grid]\nrows = 1\ncolumns = 2\npatch_mm = [20, 20]\n\
            [[card]]\ncard = \"grey-18\"\n[[card]]\ncard = \"white-grey-black\"\n";
        let panel = crate::panel::read_text(text, std::path::Path::new("panel.toml")).unwrap();
        let map = PlaneMap::new(Matrix3::identity());
        let card = |index| LocatedCard { index, map };
        let mut located = Located {
            panel: map,
            cards: vec![card(0), card(1)],
            quality: Quality {
                outline_rms_px: 0.5,
                seen: 1.0,
                rival: 0.0,
            },
            witnesses: Vec::new(),
            by_hand: false,
        };
        assert!(of_location(&panel, &located).is_empty());
        located.cards.remove(0);
        located.quality.seen = 0.5;
        let doubts = of_location(&panel, &located);
        assert_eq!(doubts.len(), 2, "{doubts:?}");
        assert!(doubts[0].contains("50 %"), "{doubts:?}");
        assert!(doubts[1].contains("`grey-18`"), "{doubts:?}");
    }

    #[test]
    fn what_the_references_did_not_show_is_told() {
        let used = |name: &str, weight| UsedReference {
            reference: Reference {
                regions: vec![RegionIndex::Card(0)],
                name: name.to_owned(),
                lab: Lab::new(50.0, 0.0, 0.0),
                covariance: Matrix3::identity(),
                origin: Origin::Stated,
            },
            taken_as: None,
            residual: 0.0,
            left_out: None,
            weight,
            alone: None,
            put_right: None,
        };
        let mut correction = Correction {
            kind: CorrectionKind::Neutral,
            references: vec![used("card grey-18 A1", 1.0), used("patch B2", 0.0)],
            leave_one_out: None,
            neutral_alone: None,
            tone: ToneCurve {
                contrast: 0.2,
                shift: -0.2,
                source: ToneSource::Assumed,
                covariance: Matrix2::zeros(),
            },
            light: LightField {
                order: 0,
                colour_order: 0,
                centre: [0.0; 2],
                scale: 1.0,
                coefficients: [[0.0; 5]; 3],
                origin: [0.0; 5],
                residual: 0.0,
                covariance: [[0.0; 5]; 5],
                stretches: 0,
                seen: false,
                local: Local::default(),
                local_tone: None,
            },
            local_tone: Some(LocalTone {
                strength: 0.1,
                sd: 0.02,
                range: 0.8,
            }),
            map: ColourMap {
                gains: [1.0; 3],
                terms: Terms::Linear,
                coefficients: Vec::new(),
            },
            saved: None,
            drift: None,
        };
        let doubts = of_correction(&correction, &Metadata::default(), EncodingSource::Profile);
        assert_eq!(doubts.len(), 4, "{doubts:?}");
        assert!(doubts[0].contains("tone curve was assumed"), "{doubts:?}");
        assert!(doubts[1].contains("taken as even"), "{doubts:?}");
        assert!(doubts[2].contains("8.0 % (± 1.6 %) lighter"), "{doubts:?}");
        assert!(doubts[3].starts_with("patch B2"), "{doubts:?}");
        // Within what chance does, nothing is said.
        correction.local_tone = correction.local_tone.map(|it| LocalTone {
            strength: 0.05,
            ..it
        });
        correction.tone.source = ToneSource::Fitted;
        correction.light.seen = true;
        correction.references.pop();
        assert!(
            of_correction(&correction, &Metadata::default(), EncodingSource::Profile).is_empty()
        );
    }
}
