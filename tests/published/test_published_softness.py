"""Shadow edges and catch-lights against worked examples of radiography and of optics."""

import math

import pytest

from optimise.physics.softness import CORNEA, apparent_angle, corneal_image, penumbra_width


def test_geometric_unsharpness_of_radiography() -> None:
    # Curry et al., Christensen's Physics of Diagnostic Radiology (seen second-hand): the blur is f = F (M − 1) with
    # M = SID / SOD. F 1.2 mm, source to film 1 m, source to object 0.8 m.
    magnification = 1.0 / 0.8
    assert float(penumbra_width(1.2e-3, 0.8, 0.2)) == pytest.approx(1.2e-3 * (magnification - 1.0), rel=1e-12)


def test_the_shadow_of_the_moon() -> None:
    # The sun is 1.3927e9 m wide and 1.496e11 m away, the moon's shadow falls 3.8e8 m (values from memory); the sun's
    # angular size is about 0.53°, and the penumbra as wide as the moon's way to the earth under that angle.
    assert float(apparent_angle(1.3927e9, 1.496e11)) == pytest.approx(0.533, abs=0.001)
    width = float(penumbra_width(1.3927e9, 1.496e11 - 3.8e8, 3.8e8))
    assert width == pytest.approx(3.8e8 * math.radians(0.5347), rel=2e-3)


def test_keratometer() -> None:
    # OpenStax College Physics, chapter 25, problem 59: 1.50 cm high, 3.00 cm before a cornea, image 0.167 cm. Solutions
    # seen print a radius of 0.752 cm.
    assert float(corneal_image(0.015, 0.03, 0.00752)) == pytest.approx(0.00167, rel=2e-3)


def test_image_of_a_far_source_is_at_the_focal_length_of_the_cornea() -> None:
    # Textbooks of visual optics: a cornea of 7.80 mm radius is a mirror of 3.90 mm focal length (first Purkinje image).
    assert pytest.approx(3.9e-3) == CORNEA / 2
    assert float(corneal_image(1.0, 1e6)) / (1.0 / 1e6) == pytest.approx(3.9e-3, rel=1e-6)
