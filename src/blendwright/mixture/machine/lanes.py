"""Eight compositions of one blend side by side, each step one instruction of the processor.

What machine code (`mixture/machine/`) is built of. An array of lanes is (rows, LANES), contiguous:
a row for each component or group, a column for each composition. The operations on rows are given
to the compiler as vectors, for it can't tell by itself that two arrays don't overlap. exp and log
are polynomials, within 5e-16 relative of NumPy's, on numbers that a compiler can take eight at a
time: ten times as fast as one after the other.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from decimal import Context, Decimal
from typing import Any

import numpy as np
from llvmlite import ir
from numba import extending, njit, types
from numba.core import cgutils

LANES = 8
VECTOR = ir.VectorType(ir.DoubleType(), LANES)
intrinsic: Any = extending.intrinsic
CONTRACT = ("contract",)
ALIGNED = 8  # bytes

# Sums stay in their order: which of a loop's forms runs hangs on where arrays lie in memory, and
# with sums in any order so would the last digit of an answer.
machine_code = njit(cache=True, error_model="numpy", nogil=True, fastmath={"contract"})


# Rows as vectors


def _at(context: Any, builder: Any, kind: Any, array: Any, row: Any) -> Any:
    """Where a row of an array of lanes begins."""
    data = context.make_array(kind)(context, builder, array).data
    first = builder.gep(data, [builder.mul(row, ir.Constant(row.type, LANES))])
    return builder.bitcast(first, VECTOR.as_pointer())


def _row_operation(combine: Callable[[Any, Any, Any, Any], Any]) -> Any:
    """An operation (out, i, a, j, b, k): out[i] = combine(out[i], a[j], b[k]) in all lanes."""

    @intrinsic
    def operation(_: Any, out: Any, i: Any, a: Any, j: Any, b: Any, k: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
            kinds = signature.args
            places = [_at(context, builder, kinds[n], args[n], args[n + 1]) for n in (0, 2, 4)]
            values = [builder.load(place, align=ALIGNED) for place in places]
            builder.store(combine(builder, *values), places[0], align=ALIGNED)
            return context.get_dummy_value()

        return types.void(out, types.intp, a, types.intp, b, types.intp), code

    return operation


product = _row_operation(lambda builder, _, a, b: builder.fmul(a, b))
added = _row_operation(lambda builder, _, a, b: builder.fadd(a, b))
difference = _row_operation(lambda builder, _, a, b: builder.fsub(a, b))
quotient = _row_operation(lambda builder, _, a, b: builder.fdiv(a, b))
add_product = _row_operation(lambda builder, so_far, a, b: _and_product(builder, so_far, a, b))


def _and_product(builder: Any, so_far: Any, a: Any, b: Any) -> Any:
    return builder.fadd(so_far, builder.fmul(a, b, flags=CONTRACT), flags=CONTRACT)


def _and_apart(builder: Any, so_far: Any, a: Any, b: Any) -> Any:
    apart = builder.fsub(a, b)
    negative = builder.fcmp_ordered("<", apart, ir.Constant(VECTOR, [0.0] * LANES))
    size = builder.select(negative, builder.fneg(apart), apart)
    return builder.select(builder.fcmp_ordered(">", size, so_far), size, so_far)


def _over_rows(combine: Callable[[Any, Any, Any, Any], Any]) -> Any:
    """An operation (out, i, a, j, b, k, count): out[i] is what `combine` makes, from 0 on, of
    a[j + n] and b[k + n] for each n below count."""

    @intrinsic
    def operation(_: Any, out: Any, i: Any, a: Any, j: Any, b: Any, k: Any, count: Any) -> Any:
        def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
            kinds = signature.args
            total = cgutils.alloca_once_value(builder, ir.Constant(VECTOR, [0.0] * LANES))
            with cgutils.for_range(builder, args[6]) as loop:
                rows = [
                    builder.load(
                        _at(
                            context,
                            builder,
                            kinds[n],
                            args[n],
                            builder.add(args[n + 1], loop.index),
                        ),
                        align=ALIGNED,
                    )
                    for n in (2, 4)
                ]
                builder.store(combine(builder, builder.load(total), *rows), total)
            place = _at(context, builder, kinds[0], args[0], args[1])
            builder.store(builder.load(total), place, align=ALIGNED)
            return context.get_dummy_value()

        return types.void(out, types.intp, a, types.intp, b, types.intp, types.intp), code

    return operation


sum_of_products = _over_rows(_and_product)
largest_apart = _over_rows(_and_apart)


def _weighted_rows(count: int) -> Any:
    """An operation that adds to `count` rows from out[i] on the sum over j of coefficients[k, j, r]
    a[first + j], r being the first one's; they stay in the processor's registers meanwhile."""

    @intrinsic
    def operation(
        _: Any, out: Any, i: Any, coefficients: Any, k: Any, r: Any, a: Any, first: Any
    ) -> Any:
        def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
            kinds = signature.args
            table = context.make_array(kinds[2])(context, builder, args[2])
            _, length, width = cgutils.unpack_tuple(builder, table.shape, 3)
            index = args[1].type
            places = [
                _at(context, builder, kinds[0], args[0], builder.add(args[1], index(n)))
                for n in range(count)
            ]
            sums = [
                cgutils.alloca_once_value(builder, builder.load(place, align=ALIGNED))
                for place in places
            ]
            begin = builder.add(builder.mul(builder.mul(args[3], length), width), args[4])
            with cgutils.for_range(builder, length) as loop:
                at = builder.add(args[6], loop.index)
                row = builder.load(_at(context, builder, kinds[5], args[5], at), align=ALIGNED)
                here = builder.add(begin, builder.mul(loop.index, width))
                for n, total in enumerate(sums):
                    place = builder.gep(table.data, [builder.add(here, index(n))])
                    scaled = builder.fmul(
                        row, _spread(builder, builder.load(place)), flags=CONTRACT
                    )
                    builder.store(builder.fadd(builder.load(total), scaled, flags=CONTRACT), total)
            for place, total in zip(places, sums, strict=True):
                builder.store(builder.load(total), place, align=ALIGNED)
            return context.get_dummy_value()

        return types.void(
            out, types.intp, coefficients, types.intp, types.intp, a, types.intp
        ), code

    return operation


def _spread(builder: Any, number: Any) -> Any:
    """One number in all lanes."""
    none, index = ir.Constant(VECTOR, ir.Undefined), ir.IntType(32)
    first = builder.insert_element(none, number, index(0))
    zeros = ir.Constant(ir.VectorType(index, LANES), [0] * LANES)
    return builder.shuffle_vector(first, none, zeros)


# a sum waits for its last term: eight at once keep the processor busy
_eight_rows = _weighted_rows(8)
_four_rows = _weighted_rows(4)
_two_rows = _weighted_rows(2)
_one_row = _weighted_rows(1)


@machine_code
def add_weighted(out, i, coefficients, k, a, first):
    """out[i + r] += sum over j of coefficients[k, j, r] a[first + j], for every r and lane."""
    r, width = 0, coefficients.shape[2]
    while r + 8 <= width:
        _eight_rows(out, i + r, coefficients, k, r, a, first)
        r += 8
    if r + 4 <= width:
        _four_rows(out, i + r, coefficients, k, r, a, first)
        r += 4
    if r + 2 <= width:
        _two_rows(out, i + r, coefficients, k, r, a, first)
        r += 2
    if r < width:
        _one_row(out, i + r, coefficients, k, r, a, first)


@machine_code
def lanes_of(rows):
    """An array of lanes, all zero, whose rows begin where the processor reads them at once."""
    raw = np.zeros(rows * LANES + LANES)
    skipped = (-raw.ctypes.data % (8 * LANES)) // 8
    return raw[skipped : skipped + rows * LANES].reshape(rows, LANES)


@machine_code
def cleared(out, begin, end):
    """Rows begin to end set to zero."""
    for i in range(begin, end):
        for lane in range(LANES):
            out[i, lane] = 0.0


# exp and log


@intrinsic
def _bits(_: Any, number: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], context.get_value_type(types.int64))

    return types.int64(types.float64), code


@intrinsic
def _number(_: Any, bits: Any) -> Any:
    def code(context: Any, builder: Any, signature: Any, args: Any) -> Any:
        return builder.bitcast(args[0], context.get_value_type(types.float64))

    return types.float64(types.int64), code


MANTISSA_BITS = 52
WHOLE = 1.5 * 2.0**MANTISSA_BITS  # added to a number, its last bits are the nearest whole one
LN_2 = math.log(2.0)
LN_2_HIGH = math.ldexp(math.floor(math.ldexp(LN_2, 32)), -32)  # times a whole one is exact
LN_2_LOW = float(Decimal(2).ln(Context(prec=40)) - Decimal(LN_2_HIGH))
PER_LN_2 = 1.0 / LN_2
HALF_ROOT = int(np.float64(math.sqrt(0.5)).view(np.int64))


@machine_code
def exps(numbers, least, most):
    """exp of each number in place, between `least` (above -708) and `most` (below 709)."""
    for j in range(numbers.size):
        x = min(max(numbers[j], least), most)
        shifted = x * PER_LN_2 + WHOLE
        whole = shifted - WHOLE
        r = (x - whole * LN_2_HIGH) - whole * LN_2_LOW
        p = 1.0 / 6227020800.0
        p = p * r + 1.0 / 479001600.0
        p = p * r + 1.0 / 39916800.0
        p = p * r + 1.0 / 3628800.0
        p = p * r + 1.0 / 362880.0
        p = p * r + 1.0 / 40320.0
        p = p * r + 1.0 / 5040.0
        p = p * r + 1.0 / 720.0
        p = p * r + 1.0 / 120.0
        p = p * r + 1.0 / 24.0
        p = p * r + 1.0 / 6.0
        p = p * r + 0.5
        p = p * r + 1.0
        p = p * r + 1.0
        numbers[j] = _number(_bits(p) + (_bits(shifted) << MANTISSA_BITS))


@machine_code
def logs(numbers):
    """ln of each number in place: normal ones above zero."""
    for j in range(numbers.size):
        bits = _bits(numbers[j])
        power = (bits - HALF_ROOT) >> MANTISSA_BITS
        fraction = _number(bits - (power << MANTISSA_BITS))  # from the root of 1/2 to that of 2
        s = (fraction - 1.0) / (fraction + 1.0)
        z = s * s
        p = 1.0 / 21.0
        p = p * z + 1.0 / 19.0
        p = p * z + 1.0 / 17.0
        p = p * z + 1.0 / 15.0
        p = p * z + 1.0 / 13.0
        p = p * z + 1.0 / 11.0
        p = p * z + 1.0 / 9.0
        p = p * z + 1.0 / 7.0
        p = p * z + 1.0 / 5.0
        p = p * z + 1.0 / 3.0
        numbers[j] = float(power) * LN_2 + 2.0 * (s + s * z * p)
