#include "cm.h"

#include "alloc_probe.h"
#include "signal/fourier.h"
#include "tone.h"

#include <gsl/gsl_fft_complex.h>

#include <math.h>
#include <stdlib.h>

static void fill(es_fourier *f, double *packed, uint64_t seed)
{
    for (size_t i = 0; i < f->length; i++) {
        f->re[i] = (float)test_gauss(&seed);
        f->im[i] = (float)test_gauss(&seed);
        packed[2 * i] = (double)f->re[i];
        packed[2 * i + 1] = (double)f->im[i];
    }
}

/* The GNU Scientific Library's transform in double. */
static void oracle(double *packed, size_t length)
{
    gsl_fft_complex_wavetable *table = gsl_fft_complex_wavetable_alloc(length);
    gsl_fft_complex_workspace *room = gsl_fft_complex_workspace_alloc(length);
    gsl_fft_complex_forward(packed, 1, length, table, room);
    gsl_fft_complex_wavetable_free(table);
    gsl_fft_complex_workspace_free(room);
}

static void agree(size_t length)
{
    es_fourier f;
    double *packed = calloc(2 * length, sizeof *packed);
    assert_int_equal(es_fourier_start(&f, length), ES_OK);
    for (uint64_t round = 1; round <= 2; round++) { /* one run leaves nothing to the next */
        fill(&f, packed, round);
        oracle(packed, length);
        es_fourier_run(&f);
        double error = 0.0, power = 0.0;
        for (size_t k = 0; k < length; k++) {
            double re = (double)f.out_re[k] - packed[2 * k];
            double im = (double)f.out_im[k] - packed[2 * k + 1];
            error += re * re + im * im;
            power += packed[2 * k] * packed[2 * k] + packed[2 * k + 1] * packed[2 * k + 1];
        }
        assert_true(sqrt(error / power) < 4e-7);
    }
    free(packed);
    es_fourier_stop(&f);
}

static void agrees_with_the_scientific_library(void **state)
{
    (void)state;
    static const size_t lengths[] = {16,  32,  48,   64,   80,   96,    240,  480,
                                     512, 960, 2048, 2400, 2592, 16384, 65536};
    for (size_t i = 0; i < sizeof lengths / sizeof *lengths; i++)
        agree(lengths[i]);
}

/* Of real samples, of any even length: the same library's complex transform with nothing imaginary. */
static void agrees_on_real_samples(void **state)
{
    (void)state;
    static const size_t lengths[] = {2, 14, 256, 1000, 4096, 6000, 16384, 65536};
    for (size_t i = 0; i < COUNT(lengths); i++) {
        es_fourier_real f;
        size_t n = lengths[i];
        uint64_t seed = 7;
        double *packed = calloc(2 * n, sizeof *packed), error = 0.0, power = 0.0;
        assert_int_equal(es_fourier_real_start(&f, n), ES_OK);
        for (size_t k = 0; k < n; k++)
            packed[2 * k] = (double)(f.samples[k] = (float)test_gauss(&seed));
        float first = f.samples[0], last = f.samples[n - 1];
        es_fourier_real_run(&f);
        assert_true(f.samples[0] == first && f.samples[n - 1] == last); /* kept */
        oracle(packed, n);
        for (size_t k = 0; k <= n / 2; k++) {
            double re = (double)f.bin[k].re - packed[2 * k];
            double im = (double)f.bin[k].im - packed[2 * k + 1];
            error += re * re + im * im;
            power += packed[2 * k] * packed[2 * k] + packed[2 * k + 1] * packed[2 * k + 1];
        }
        assert_true(sqrt(error / power) < 4e-7);
        free(packed);
        es_fourier_real_stop(&f);
    }
}

/* Two objects, however their memory lies, give the same to the last bit. */
static void another_of_the_same_length_says_the_same(void **state)
{
    (void)state;
    enum { LENGTH = 4096 };
    es_fourier_real f[2];
    for (int k = 0; k < 2; k++) {
        uint64_t seed = 3;
        assert_int_equal(es_fourier_real_start(&f[k], LENGTH), ES_OK);
        for (size_t i = 0; i < LENGTH; i++)
            f[k].samples[i] = (float)test_gauss(&seed);
        es_fourier_real_run(&f[k]);
    }
    assert_memory_equal(f[0].bin, f[1].bin, (LENGTH / 2 + 1) * sizeof *f[0].bin);
    for (int k = 0; k < 2; k++)
        es_fourier_real_stop(&f[k]);
}

static void survives_want_of_memory(void **state)
{
    (void)state;
    for (int real = 0; real < 2; real++)
        for (long n = 0;; n++) {
            es_fourier whole;
            es_fourier_real half;
            alloc_probe_fail_after(n);
            es_status status =
                real ? es_fourier_real_start(&half, 480) : es_fourier_start(&whole, 480);
            if (real)
                es_fourier_real_stop(&half);
            else
                es_fourier_stop(&whole);
            assert_int_equal(alloc_probe_live(), 0);
            if (status == ES_OK) {
                assert_int_equal(n, real ? 2 : 1);
                break;
            }
            assert_int_equal(status, ES_ERR_NOMEM);
        }
    alloc_probe_reset();
}

static void a_line_comes_out_in_its_bin_alone(void **state)
{
    (void)state;
    es_fourier f;
    assert_int_equal(es_fourier_start(&f, 480), ES_OK);
    for (size_t i = 0; i < 480; i++) {
        double angle = 2.0 * 3.14159265358979 * 37.0 * (double)i / 480.0;
        f.re[i] = (float)cos(angle);
        f.im[i] = (float)sin(angle);
    }
    es_fourier_run(&f);
    for (size_t k = 0; k < 480; k++)
        assert_near(hypot((double)f.out_re[k], (double)f.out_im[k]), k == 37 ? 480.0 : 0.0, 2e-3);
    es_fourier_stop(&f);
}

static void takes_multiples_of_16_without_large_primes(void **state)
{
    (void)state;
    for (size_t length = 0; length < 3000; length++) {
        size_t rest = length;
        for (size_t prime = 2; prime <= 5 && length > 0; prime++)
            while (rest % prime == 0)
                rest /= prime;
        assert_int_equal(es_fourier_suits(length), length > 0 && length % 16 == 0 && rest == 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_the_scientific_library),
        cmocka_unit_test(agrees_on_real_samples),
        cmocka_unit_test(another_of_the_same_length_says_the_same),
        cmocka_unit_test(survives_want_of_memory),
        cmocka_unit_test(a_line_comes_out_in_its_bin_alone),
        cmocka_unit_test(takes_multiples_of_16_without_large_primes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
