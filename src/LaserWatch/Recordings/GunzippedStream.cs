using System.IO.Compression;

namespace LaserWatch.Recordings;

/// <summary>Unpacks gzip, and throws where the packed stream breaks off.</summary>
/// <remarks>
/// <see cref="GZipStream"/> takes a stream that breaks off for one that ends. So a last member of known content is added
/// behind the source: it unpacks to that content only if all before it was whole. What comes after the source's own end is
/// kept back for this comparison, so that no rubbish is ever handed out.
/// </remarks>
internal sealed class GunzippedStream : OneWayStream
{
    private static readonly byte[] Seal = "the end"u8.ToArray();
    private static readonly byte[] PackedSeal = Pack(Seal);

    private readonly SealedSource _source;
    private readonly GZipStream _gzip;

    public GunzippedStream(Stream source)
    {
        _source = new SealedSource(source);
        _gzip = new GZipStream(_source, CompressionMode.Decompress);
    }

    /// <exception cref="InvalidDataException">The packed stream is damaged, or breaks off.</exception>
    public override int Read(Span<byte> buffer)
    {
        if (buffer.IsEmpty || _source.AtSeal)
            return 0;
        var length = _gzip.Read(buffer);
        if (!_source.AtSeal)
            return length;

        // The inflater asks for more only when it has handed out all it made of what it had: this is the seal, or rubbish.
        Span<byte> tail = stackalloc byte[Seal.Length + 1];
        var held = Math.Min(length, tail.Length);
        buffer[..held].CopyTo(tail);
        if (held < tail.Length)
            held += _gzip.ReadAtLeast(tail[held..], tail.Length - held, throwOnEndOfStream: false);
        if (!tail[..held].SequenceEqual(Seal))
            throw new InvalidDataException("The gzip data breaks off.");
        return 0;
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
            _gzip.Dispose();
        base.Dispose(disposing);
    }

    private static byte[] Pack(byte[] content)
    {
        var packed = new MemoryStream();
        using (var gzip = new GZipStream(packed, CompressionLevel.Fastest, leaveOpen: true))
            gzip.Write(content);
        return packed.ToArray();
    }

    private sealed class SealedSource(Stream source) : OneWayStream
    {
        private int _sealTaken;

        /// <summary>True once the source has ended, and the seal is being given.</summary>
        public bool AtSeal { get; private set; }

        public override int Read(Span<byte> buffer)
        {
            if (!AtSeal)
            {
                var length = source.Read(buffer);
                if (length > 0)
                    return length;
                AtSeal = true;
            }

            var seal = PackedSeal.AsSpan(_sealTaken);
            var given = Math.Min(buffer.Length, seal.Length);
            seal[..given].CopyTo(buffer);
            _sealTaken += given;
            return given;
        }
    }
}
