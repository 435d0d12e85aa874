//! Pure colour mathematics: numbers in, numbers out. Depends on no other module.
//!
//! One white for the whole program: [`white::D50`]. [`lab`] and [`difference`] hold CIELAB and its differences,
//! [`adaptation`] goes from white to white, [`spectrum`] from reflectance to XYZ, [`reconstruction`] back to a likely reflectance, [`srgb`] to what a screen can show,
//! [`camera`] goes from a sensor's values to XYZ by matrices for two lights, [`temperature`] says how warm a light is,
//! [`css`] reads colours as web pages write them, [`uncertainty`] goes from a covariance in Lab to an interval in ΔE00.
//! Of a change in colour [`grey_scale`] gives the grade, [`lightfastness`] the band, [`yellowness`] the index of a white.

pub mod adaptation;
pub mod camera;
pub mod css;
pub mod difference;
pub mod grey_scale;
pub mod lab;
pub mod lightfastness;
pub mod reconstruction;
pub mod spectrum;
pub mod srgb;
pub mod temperature;
pub mod uncertainty;
pub mod white;
pub mod yellowness;

use nalgebra::Matrix3;
use palette::white_point::D50;

/// CIELAB relative to D50, 2° observer.
pub type Lab = palette::Lab<D50, f64>;
/// XYZ relative to D50, 2° observer, Y = 1 for the perfect diffuser.
pub type Xyz = palette::Xyz<D50, f64>;
/// A covariance or a linear map over three channels.
pub type Matrix = Matrix3<f64>;
