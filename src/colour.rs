//! Pure colour mathematics: numbers in, numbers out. Depends on no other module.

use nalgebra::Matrix3;
use palette::white_point::D50;

/// CIELAB relative to D50, 2° observer.
pub type Lab = palette::Lab<D50, f64>;
/// XYZ relative to D50, 2° observer, Y = 1 for the perfect diffuser.
pub type Xyz = palette::Xyz<D50, f64>;
/// A covariance or a linear map over three channels.
pub type Matrix = Matrix3<f64>;
