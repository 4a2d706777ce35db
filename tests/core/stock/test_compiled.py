"""The cache of compiled kernels notices a change in any file of the package."""

from shopflow.core.stock import compiled, sweep_kernels


def test_a_change_in_one_file_is_another_fingerprint(tmp_path):
    (tmp_path / "one_kernels.py").write_text("A = 1\n")
    before = compiled.fingerprint(tmp_path)
    (tmp_path / "two_kernels.py").write_text("B = 1\n")
    assert compiled.fingerprint(tmp_path) != before


def test_the_cache_of_each_kernel_is_stamped_with_it():
    stamp = sweep_kernels.lowest._cache._cache_file._source_stamp
    assert compiled.fingerprint(compiled.Path(compiled.__file__).parent) in stamp
