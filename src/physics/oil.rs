//! Oil in bulk: particles and treatment. The dissolved gases have a file of their own.

use super::{Domain, not_negative};

/// Upper borders of the classes 1 to 28 of ISO 4406, particles in 1 ml: each twice the one before, rounded as the
/// standard prints them.
const CLASSES: [f64; 28] = [
    0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 320.0, 640.0,
    1300.0, 2500.0, 5e3, 1e4, 2e4, 4e4, 8e4, 1.6e5, 3.2e5, 6.4e5, 1.3e6, 2.5e6,
];

/// The ISO 4406 code of one particle size.
///
/// `count`: particles of this size and larger in 1 ml; up to 0.01 it is 0. Errors: a negative count, one above
/// 2.5 million, for which there is no class. Source: table of ISO 4406, as reprinted by makers of filters. Example:
/// 1120, 210, 28 per ml: 17, 15, 12.
pub fn particle_code(count: f64) -> Result<f64, Domain> {
    let count = not_negative(count, "the particle count must not be negative")?;
    if count <= 0.01 {
        return Ok(0.0);
    }
    CLASSES
        .iter()
        .position(|border| count <= *border)
        .map(|class| class as f64 + 1.0)
        .ok_or(Domain(
            "above 2.5 million particles in 1 ml there is no class",
        ))
}

/// The share (fraction) of the oil that has not yet passed the treatment: exp(−n).
///
/// `volumes`: how often the tank's volume was passed; the oil in the tank is taken as fully mixed. Errors: a
/// negative number. Source: physics. Example: 1, 2, 3, 4 volumes: 0.368, 0.135, 0.050, 0.018.
pub fn mixed_share(volumes: f64) -> Result<f64, Domain> {
    Ok((-not_negative(volumes, "the number of volumes must not be negative")?).exp())
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn particles() {
        for (count, code) in [
            (1120.0, 17.0),
            (210.0, 15.0),
            (28.0, 12.0),
            (0.64, 6.0),
            (0.641, 7.0),
            (1.3, 7.0),
            (81.0, 14.0),
            (321.0, 16.0),
            (1301.0, 18.0),
            (0.01, 0.0),
            (0.001, 0.0),
            (0.0, 0.0),
        ] {
            near(particle_code(count).unwrap(), code, 0.0);
        }
        assert!(particle_code(-1.0).is_err() && particle_code(f64::NAN).is_err());
        assert!(particle_code(3e6).is_err());
    }

    #[test]
    fn treatment() {
        for (volumes, share) in [
            (0.0, 1.0),
            (1.0, 0.368),
            (2.0, 0.135),
            (3.0, 0.050),
            (4.0, 0.018),
        ] {
            near(mixed_share(volumes).unwrap(), share, 5e-4);
        }
        assert!(mixed_share(-0.5).is_err());
    }
}
