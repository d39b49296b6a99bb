"""Transient conduction against closed solutions, a second method, and its own heat balance."""

import numpy as np
import pytest
from heat_slab import add_slab
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import erf, j0, j1

from gridshell.thermal.heat.network import INSIDE, OUTSIDE, Builder, Solid, constant_solid
from gridshell.thermal.heat.surroundings import Surroundings, constant_coefficient
from gridshell.thermal.heat.transient import transient

K, RHO, C = 0.25, 960.0, 2000.0
DIFFUSIVITY = K / (RHO * C)
START, COLD = 300.0, 200.0


def plastic():
    return constant_solid("plastic", K, RHO, C)


def cold_bath(coefficient, **more):
    return Surroundings(COLD, constant_coefficient(coefficient), **more)


def slab(thickness, cells, solid=None):
    builder = Builder()
    nodes = add_slab(builder, thickness, cells, solid or plastic())
    builder.face(nodes[-1], 1.0, OUTSIDE)
    return builder.build(), nodes


def cool(network, coefficient, duration, **options):
    return transient(network, np.full(network.count, START), {OUTSIDE: cold_bath(coefficient)},
                     duration, **options)


def test_lumped_body_follows_the_exponential():
    # Lumped capacity: Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed., 1.8 (and any
    # heat transfer book); Bi = 0.001, so the slab is even to a thousandth.
    thickness = 1e-3
    h = 0.001 * K / thickness
    time = RHO * C * thickness / h
    network, _ = slab(thickness, 3)
    found = cool(network, h, time, tolerance=0.01)
    share = (found.temperature[-1] - COLD) / (START - COLD)
    assert share == pytest.approx(np.exp(-1), abs=4e-4)


def test_semi_infinite_body_follows_the_error_function():
    # Surface brought to a temperature at once: Carslaw and Jaeger, 2.4, T = T0 erf(x/(2 sqrt(at))).
    depth, time = 0.02, 100.0
    network, nodes = slab(depth, 80)
    found = cool(network, 1e6, time, tolerance=0.1)
    x = depth * (1 - np.arange(len(nodes)) / 80)  # from the cold face
    exact = COLD + (START - COLD) * erf(x / (2 * np.sqrt(DIFFUSIVITY * time)))
    assert found.temperature[-1][nodes] == pytest.approx(exact, abs=0.15)


def slab_series(fourier, biot, place, terms=60):
    """Carslaw and Jaeger, 3.11: slab cooled at one face, insulated at the other (place 0)."""
    total = 0.0
    for n in range(terms):
        root = brentq(lambda z: z * np.sin(z) - biot * np.cos(z),
                      n * np.pi + 1e-9, n * np.pi + np.pi / 2)
        weight = 4 * np.sin(root) / (2 * root + np.sin(2 * root))
        total = total + weight * np.exp(-(root**2) * fourier) * np.cos(root * place)
    return total


# Coefficients of the first term (root, weight): Cengel, Heat Transfer, Table 4-2.
SLAB_TABLE = {0.1: (0.3111, 1.0161), 1.0: (0.8603, 1.1191), 10.0: (1.4289, 1.2620)}
CYLINDER_TABLE = {0.1: (0.4417, 1.0246), 1.0: (1.2558, 1.2071), 10.0: (2.1795, 1.5677)}


@pytest.mark.parametrize("biot", SLAB_TABLE)
def test_slab_follows_the_series_and_the_published_table(biot):
    thickness = 0.01
    time = thickness**2 / DIFFUSIVITY * 0.6
    network, nodes = slab(thickness, 40)
    found = cool(network, biot * K / thickness, time, tolerance=0.02)
    share = (found.temperature[-1][nodes] - COLD) / (START - COLD)
    place = np.arange(41) / 40
    assert share == pytest.approx(slab_series(0.6, biot, place), abs=3e-4)
    root, weight = SLAB_TABLE[biot]
    assert share[0] == pytest.approx(weight * np.exp(-(root**2) * 0.6), abs=2e-3)


@pytest.mark.parametrize("biot", CYLINDER_TABLE)
def test_cylinder_follows_the_published_table(biot):
    # One-term solution, Fo = 0.5: Cengel, Table 4-2; the bore is too small to matter.
    radius = 0.01
    builder = Builder()
    nodes = builder.wall(radius * 1e-3, radius, 60, plastic())
    builder.face(nodes[-1], 2 * np.pi * radius, OUTSIDE)
    network = builder.build()
    found = cool(network, biot * K / radius, radius**2 / DIFFUSIVITY * 0.5, tolerance=0.02)
    share = (found.temperature[-1][nodes] - COLD) / (START - COLD)
    root, weight = CYLINDER_TABLE[biot]
    assert share[0] == pytest.approx(weight * np.exp(-(root**2) * 0.5), abs=3e-3)
    assert share[-1] == pytest.approx(weight * np.exp(-(root**2) * 0.5) * j0(root), abs=3e-3)
    # The table itself, against the Bessel functions: root J1 = Bi J0.
    assert root * j1(root) == pytest.approx(biot * j0(root), rel=2e-3)


def test_layered_tube_comes_to_the_steady_heat_flow():
    # Cylindrical layers in series: Incropera and DeWitt, 3.3 (resistance ln(r2/r1)/(2 pi k)).
    radii, conductivities = (0.02, 0.025, 0.04), (0.25, 0.04)
    builder = Builder()
    first = builder.wall(radii[0], radii[1], 8, plastic())
    second = builder.wall(radii[1], radii[2], 8, constant_solid("foam", 0.04, 30.0, 2000.0),
                          first=first[-1])
    builder.face(first[0], 2 * np.pi * radii[0], INSIDE)
    builder.face(second[-1], 2 * np.pi * radii[2], OUTSIDE)
    network = builder.build()
    found = transient(
        network, np.full(network.count, START),
        {INSIDE: Surroundings(START, constant_coefficient(20.0)), OUTSIDE: cold_bath(10.0)}, 1e6)
    resistance = (1 / (20 * 2 * np.pi * radii[0]) + 1 / (10 * 2 * np.pi * radii[2])
                  + sum(np.log(b / a) / (2 * np.pi * k) for a, b, k in
                        zip(radii[:-1], radii[1:], conductivities, strict=True)))
    heat = (START - COLD) / resistance
    outer = found.temperature[-1][second[-1]]
    assert 10 * 2 * np.pi * radii[2] * (outer - COLD) == pytest.approx(heat, rel=1e-6)


def test_fin_comes_to_the_published_tip_temperature():
    # Straight fin, insulated tip: theta = cosh(m(L - x))/cosh(mL), Incropera and DeWitt, 3.6.
    length, width, h = 0.02, 0.004, 8.0
    builder = Builder()
    nodes = add_slab(builder, length, 40, plastic(), area=width)
    for i, node in enumerate(nodes):
        builder.face(node, 2 * length / 40 * (0.5 if i in (0, 40) else 1.0), OUTSIDE)
    builder.face(nodes[0], 1e3, INSIDE)  # holds the foot
    network = builder.build()
    found = transient(
        network, np.full(network.count, START),
        {INSIDE: Surroundings(START, constant_coefficient(1e6)), OUTSIDE: cold_bath(h)}, 1e5)
    m = np.sqrt(2 * h / (K * width))
    x = np.arange(41) * length / 40
    exact = COLD + (START - COLD) * np.cosh(m * (length - x)) / np.cosh(m * length)
    assert found.temperature[-1][nodes] == pytest.approx(exact, abs=0.03)


def test_contact_resistance_drops_the_temperature():
    builder = Builder()
    first = add_slab(builder, 0.01, 4, plastic())
    second = add_slab(builder, 0.01, 4, plastic())
    builder.contact(first[-1], second[0], 25.0)
    builder.face(first[0], 1.0, INSIDE)
    builder.face(second[-1], 1.0, OUTSIDE)
    network = builder.build()
    stiff = constant_coefficient(1e9)
    found = transient(network, np.full(network.count, START),
                      {INSIDE: Surroundings(START, stiff), OUTSIDE: Surroundings(COLD, stiff)}, 1e5)
    heat = 100.0 / (0.01 / K + 1 / 25.0 + 0.01 / K)
    step = found.temperature[-1][first[-1]] - found.temperature[-1][second[0]]
    assert step == pytest.approx(heat / 25.0, rel=1e-6)


def bumpy():
    """Conductivity and heat capacity that change, with a peak as of a melting wax."""
    return Solid("bumpy", lambda t: 0.2 + 1e-3 * (t - 200),
                 lambda t: RHO * (1200 + 8 * (t - 200) + 9000 * np.exp(-(((t - 255) / 4) ** 2))))


@pytest.mark.parametrize("tolerance", [1.0, 0.2])
def test_heat_balances_to_a_thousandth_with_changing_properties(tolerance):
    network, _ = slab(0.004, 12, bumpy())
    found = cool(network, 60.0, 2000.0, tolerance=tolerance)
    assert abs(float(found.heat_in)) > 1e5
    assert found.imbalance < 1e-3
    # The balance is of two separate sums: spoil one and it shows.
    spoiled = type(found)(found.time, found.temperature, found.heat_in * 1.01, found.heat_stored,
                          found.exchanged)
    assert spoiled.imbalance > 5e-3


def test_changing_properties_against_a_general_solver():
    # The same equations by scipy's LSODA on temperatures instead of heat content.
    solid, cells, thickness, h = bumpy(), 10, 0.004, 60.0
    network, nodes = slab(thickness, cells, solid)
    found = cool(network, h, 600.0, tolerance=0.02)
    dx = thickness / cells
    size = np.full(cells + 1, dx)
    size[[0, -1]] /= 2

    def rate(_, t):
        heat = np.zeros(cells + 1)
        flow = solid.conductivity((t[1:] + t[:-1]) / 2) * (t[1:] - t[:-1]) / dx
        heat[:-1] += flow
        heat[1:] -= flow
        heat[-1] += h * (COLD - t[-1])
        return heat / (size * solid.capacity(t))

    other = solve_ivp(rate, (0, 600.0), np.full(cells + 1, START), method="LSODA", rtol=1e-8,
                      atol=1e-8)
    assert found.temperature[-1][nodes] == pytest.approx(other.y[:, -1], abs=0.05)


def test_second_order_in_time_step():
    network, _ = slab(0.01, 16)
    time, h = 0.01**2 / DIFFUSIVITY * 0.5, 2 * K / 0.01
    fine = cool(network, h, time, step=time / 640).temperature[-1]
    # Measured away from the sudden start, as the order of any scheme is.
    errors = [np.abs(cool(network, h, time, step=time / n).temperature[-1] - fine).max()
              for n in (20, 40, 80)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(orders > 1.8), orders


def test_second_order_in_mesh():
    time, biot = 0.01**2 / DIFFUSIVITY * 0.5, 2.0
    exact = slab_series(0.5, biot, 0.0)
    errors = []
    for cells in (4, 8, 16):
        network, nodes = slab(0.01, cells)
        found = cool(network, biot * K / 0.01, time, step=time / 800).temperature[-1][nodes[0]]
        errors.append(abs((found - COLD) / (START - COLD) - exact))
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all((orders > 1.8) & (orders < 2.3)), (errors, orders)


def test_tolerance_bounds_the_error():
    network, _ = slab(0.01, 16)
    time = 0.01**2 / DIFFUSIVITY
    fine = cool(network, 50.0, time, step=time / 2000)
    for tolerance in (1.0, 0.2, 0.05):
        found = cool(network, 50.0, time, tolerance=tolerance)
        at = np.array([np.interp(found.time, fine.time, fine.temperature[:, i])
                       for i in range(network.count)]).T
        # After the sudden start, where the straight line between two times is no reference.
        later = found.time > 0.01 * time
        assert np.abs(found.temperature - at)[later].max() < tolerance


def test_many_walls_at_once_equal_each_alone():
    thickness = np.array([0.002, 0.004, 0.008])
    together, _ = slab(thickness, 6)
    many = transient(together, np.full((3, together.count), START), {OUTSIDE: cold_bath(40.0)},
                     300.0, step=5.0)
    for i, one in enumerate(thickness):
        alone, _ = slab(one, 6)
        single = cool(alone, 40.0, 300.0, step=5.0)
        assert many.temperature[-1][i] == pytest.approx(single.temperature[-1], abs=1e-5)
        assert many.imbalance[i] == pytest.approx(single.imbalance, abs=1e-9)


def test_many_surroundings_at_once():
    network, _ = slab(0.004, 6)
    around = Surroundings(np.array([200.0, 250.0]), constant_coefficient(40.0))
    found = transient(network, np.full(network.count, START), {OUTSIDE: around}, 1e5)
    assert found.temperature[-1] == pytest.approx(np.array([[200.0] * 7, [250.0] * 7]), abs=1e-3)


def test_slow_ramp_is_followed_with_the_lag_of_a_parabola():
    # Linear fall of the surface at a rate: the insulated face lags by rate L^2/(2 a), Carslaw
    # and Jaeger, 3.5.
    thickness, rate = 0.004, 0.02
    network, nodes = slab(thickness, 12)
    time = 4000.0
    around = Surroundings(START - rate * time, constant_coefficient(1e6), before=START, ramp=time)
    found = transient(network, np.full(network.count, START), {OUTSIDE: around}, time)
    lag = found.temperature[-1][nodes[0]] - found.temperature[-1][nodes[-1]]
    assert lag == pytest.approx(rate * thickness**2 / (2 * DIFFUSIVITY), rel=2e-3)


def test_no_surroundings_no_change():
    network, _ = slab(0.004, 4)
    found = transient(network, np.full(network.count, START), {OUTSIDE: None}, 100.0)
    assert found.temperature[-1] == pytest.approx(START)
    assert found.imbalance == 0
