// Post a traveller in turn and keep its record, one row a block: Traveller REQUEST RECORD.csv [ADDRESS]
// .NET Framework 4.6.2 or newer, .NET 8, or Mono. The request says `in_turn` and asks for a record.
using System;
using System.IO;
using System.Net.Http;
using System.Net.Http.Headers;

public static class Traveller
{
    public static int Main(string[] args)
    {
        var address = args.Length > 2 ? args[2] : "http://127.0.0.1:8000";
        using (var client = new HttpClient { Timeout = TimeSpan.FromSeconds(60) })
        {
            client.DefaultRequestHeaders.Accept.Add(new MediaTypeWithQualityHeaderValue("text/csv"));
            var body = new ByteArrayContent(File.ReadAllBytes(args[0]));
            body.Headers.ContentType = new MediaTypeHeaderValue("application/json");
            var response = client.PostAsync(address + "/v1/stacks", body).Result;
            if (!response.IsSuccessStatusCode)
            {
                Console.Error.WriteLine(response.Content.ReadAsStringAsync().Result);
                return 1;
            }
            File.WriteAllBytes(args[1], response.Content.ReadAsByteArrayAsync().Result);
            return 0;
        }
    }
}
